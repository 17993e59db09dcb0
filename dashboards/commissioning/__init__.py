"""Fitting a line, from the tap to a signed record: one task a screen, kept on the box.

progress   how far a line is: everything measured and typed so far, in base units
notebook   the file it is kept in
bench      where rows of the meters come from
steps      the steps in their order, and which of them a line has
counting   drops: counts, when they agree, what they say
promise    what the survey says this water becomes at this bypass
checks     what came out against what is allowed
typed      what was typed, in the reader's units, as base units
moves      what each button does: progress in, progress and acts out
meters     what the meters say now
screen     what a screen is made of; tasks_water, tasks_meters, task_proposal make each
screens    a step as a screen, in words and drawings
drawings   jugs, rulers and drops
routes     the addresses
"""
