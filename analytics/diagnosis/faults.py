"""Every fault there is a name for: its NE 107 word and what the estimate does about it.

What it is and how to mend it in a person's words stand in the catalogue under
`alarm.fault-found.CODE`.
"""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.health import CHECK, FAILURE, MAINTENANCE, OUT_OF_SPEC

IGNORED: Final = "ignored"
"""What the meter says is left out."""
WIDENED: Final = "widened"
"""More than one account stays possible: the range is wider."""
HELD: Final = "held"
"""The figure waits."""
COUNTED: Final = "counted"
"""It does use the cartridge: it is counted as it is seen."""


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of fault: its word of NE 107 and its effect on the estimate."""

    word: str
    effect: str


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """A fault that is found: `which` meter (outlet, inlet, flow; empty: the line), since when, how
    sure (0-1)."""

    code: str
    word: str
    since_ms: int
    confidence: float
    effect: str
    which: str = ""


FAULTS: Final = {
    "clock-wrong": Fault(word=OUT_OF_SPEC, effect=HELD),
    "data-gap": Fault(word=FAILURE, effect=WIDENED),
    "no-reading": Fault(word=FAILURE, effect=IGNORED),
    "cell-dry": Fault(word=FAILURE, effect=IGNORED),
    "cell-short": Fault(word=FAILURE, effect=IGNORED),
    "thermometer": Fault(word=FAILURE, effect=WIDENED),
    "probe-stuck": Fault(word=FAILURE, effect=IGNORED),
    "probes-exchanged": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "bubbles": Fault(word=OUT_OF_SPEC, effect=IGNORED),
    "readings-doubted": Fault(word=OUT_OF_SPEC, effect=IGNORED),
    "film": Fault(word=MAINTENANCE, effect=WIDENED),
    "flow-meter-stuck": Fault(word=FAILURE, effect=WIDENED),
    "counter-anew": Fault(word=MAINTENANCE, effect=WIDENED),
    "pulses-lost": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "pulses-doubled": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "k-factor-off": Fault(word=MAINTENANCE, effect=WIDENED),
    "leak": Fault(word=OUT_OF_SPEC, effect=COUNTED),
    "no-flow": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "cartridge-unannounced": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "bypass-moved": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "raw-water-changed": Fault(word=OUT_OF_SPEC, effect=WIDENED),
    "calibration": Fault(word=CHECK, effect=IGNORED),
}
"""By code, those that explain others first."""

ALIKE: Final = (
    ("no-flow", "filled-round", "The meters sit on the head: a shut valve and a machine that is "
     "filled past the head leave the same still water in it."),
    ("raw-water-changed", "bypass-moved", "With one probe a step of the water behind the head has "
     "no second witness."),
    ("", "cartridge-unannounced", "A cartridge that is changed before its bed lets anything "
     "through is followed by water like that before it."),
)  # fmt: skip
"""Pairs that no reading here can tell apart, and why: what is named (nothing: ""), what it is."""


def finding(code: str, since_ms: int, confidence: float, which: str = "") -> Finding:
    """A finding of a fault by its code."""
    fault = FAULTS[code]
    return Finding(
        code=code,
        word=fault.word,
        since_ms=since_ms,
        confidence=confidence,
        effect=fault.effect,
        which=which,
    )
