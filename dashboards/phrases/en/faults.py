"""English: what each fault is and how to mend it, a text a code of `analytics.diagnosis.faults`."""

from __future__ import annotations

_BY_CODE = {
    "clock-wrong": "The meter box has the wrong time.",
    "clock-wrong.do": "Look at its network and its time zone: it sets its clock by itself "
    "once it has a network.",
    "data-gap": "The meters were silent.",
    "data-gap.do": "Look at the power and the cable of the meter box.",
    "no-reading": "A meter gives no reading.",
    "no-reading.do": "Look at its cable; else replace it.",
    "cell-dry": "A probe reads next to nothing: it is dry or its cable is off.",
    "cell-dry.do": "See that it sits in water and that its plug is tight.",
    "cell-short": "A probe reads more than any water: it is shorted.",
    "cell-short.do": "Dry its plug and look for a squeezed cable; else replace it.",
    "thermometer": "A probe's thermometer cannot be right.",
    "thermometer.do": "Look at its cable; else replace the probe.",
    "probe-stuck": "A probe always shows the same.",
    "probe-stuck.do": "Take its power off and on again; else replace it.",
    "probes-exchanged": "The probes before and behind the cartridge are exchanged.",
    "probes-exchanged.do": "Trade their cables or their places.",
    "bubbles": "Bubbles pass a probe: its reading falls again and again while water flows.",
    "bubbles.do": "Let the air out of the line and turn the probe so that bubbles rise past it.",
    "readings-doubted": "A meter doubts its own readings.",
    "readings-doubted.do": "Look at its cable and clean it.",
    "film": "A film grows on a probe: it reads lower from day to day.",
    "film.do": "Clean the probe, then read both probes in raw water.",
    "flow-meter-stuck": "Water flows, but the flow meter does not count.",
    "flow-meter-stuck.do": "Look at its cable and whether its wheel turns; else replace it.",
    "counter-anew": "The flow meter starts counting anew again and again.",
    "counter-anew.do": "Look at its power and its cable.",
    "pulses-lost": "The flow meter loses counts: each draw counts less than it did.",
    "pulses-lost.do": "Look at its cable and clean its wheel, then check it with a jug.",
    "pulses-doubled": "The flow meter counts double.",
    "pulses-doubled.do": "Look at the cable's screen and the input's filter, then check it "
    "with a jug.",
    "k-factor-off": "The flow meter's K-factor does not fit the litres read by hand.",
    "k-factor-off.do": "Check it with a jug and enter the K-factor anew.",
    "leak": "Water runs while the place is shut.",
    "leak.do": "Go and look; shut the valve before the cartridge if you cannot find it.",
    "no-flow": "No water runs through the cartridge, though the place is open: a valve is "
    "shut, the main is off, or the machine is filled past it.",
    "no-flow.do": "Draw a cup and look at the valves.",
    "cartridge-unannounced": "The cartridge seems to have been changed without a word.",
    "cartridge-unannounced.do": "Enter the change and its day.",
    "bypass-moved": "The bypass seems to have been turned.",
    "bypass-moved.do": "Look at the setting on the head, then do a drop test.",
    "raw-water-changed": "The water main delivers another water.",
    "raw-water-changed.do": "Do a drop test of raw water.",
    "calibration": "A meter is being checked.",
    "calibration.do": "Nothing to do: it measures again within an hour.",
}

TEXTS = {
    "alarm.fault-found": "Something is wrong with the meters or the line.",
    "alarm.fault-found.cause": "The readings bear its mark.",
    "alarm.fault-found.consequence": "The figure becomes less sure.",
    "alarm.fault-found.do": "Look at the meters and their cables.",
} | {f"alarm.fault-found.{key}": text for key, text in _BY_CODE.items()}
