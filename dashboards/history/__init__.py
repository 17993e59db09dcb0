"""History: what happened over any span, on one time axis.

span       which span is asked for, and where one can go from it
bins       the spans of time that one point of a chart stands for
record     what the store holds of a line over a span
story      the sentence over it
lanes      scales and paths of one lane
chart      the lanes of a record as one drawing
readout    what stands under the reading mark
table      what is shown, as CSV
"""
