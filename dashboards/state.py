"""Which of a few states a line is in, decided from its facts alone. The worst that is true wins."""

from __future__ import annotations

from enum import IntEnum

from analytics.samples import DAY_MS, Estimate
from dashboards.sources import LineFacts

RAW_CHANGED = "raw-water-changed"
CAPACITY_LOW = "capacity-low"


PAST_PROBABILITY = 0.5
OLD_AFTER = 3
"""A value is old after this many intervals."""


class State(IntEnum):
    """States of a line, the one in most need of a person first."""

    PAST = 0
    HARD = 1
    DOUBT = 2
    SILENT = 3
    DUE = 4
    UNKNOWN = 5
    SOURCE = 6
    TIME = 7
    RIGHT = 8


GLASS = {
    State.PAST: "act",
    State.HARD: "hard",
    State.DOUBT: "doubt",
    State.SILENT: "silent",
    State.DUE: "due",
    State.UNKNOWN: "unknown",
    State.SOURCE: "right",
    State.TIME: "right",
    State.RIGHT: "right",
}
"""The word and sign of each state: `state.<name>` in the catalogue."""


def state_of(line: LineFacts, now_ms: int) -> State:
    """The state of a line at this instant."""
    if is_silent(line, now_ms):
        return State.SILENT
    estimate = line.estimate
    if estimate is None or not is_known(estimate):
        return State.UNKNOWN
    if not estimate.trusted:
        return State.DOUBT
    return _state_of_trusted(line, estimate, now_ms)


def _state_of_trusted(line: LineFacts, estimate: Estimate, now_ms: int) -> State:
    if is_past(estimate, now_ms):
        return State.PAST
    if is_hard(line, estimate):
        return State.HARD
    if is_open(line, RAW_CHANGED):
        return State.SOURCE
    if by_other_than_capacity(estimate):
        return State.DUE if _within_days(estimate, line, now_ms) else State.TIME
    return State.DUE if is_low(line, estimate) else State.RIGHT


def is_known(estimate: Estimate) -> bool:
    """Whether anything can be said of the end: by capacity, or by age or carbon alone."""
    return estimate.remaining_l is not None or by_other_than_capacity(estimate)


def is_silent(line: LineFacts, now_ms: int) -> bool:
    """Whether meters that should speak have not for longer than the site allows."""
    setup = line.setup
    if not (setup.outlet_probe or setup.inlet_probe or setup.flow_meter):
        return False
    if line.last_row_ms is None:
        return line.estimate is not None
    return now_ms - line.last_row_ms > setup.limits.gap_s * 1000 + line.lag_ms


def is_open(line: LineFacts, alarm: str) -> bool:
    """Whether this alarm is active (raised or acknowledged, not returned to normal)."""
    active = ("raised", "acknowledged", "shelved")
    return any(a.alarm == alarm and a.change in active for a in line.alarms)


def is_past(estimate: Estimate, now_ms: int) -> bool:
    """Whether capacity, age or carbon has more likely than not come to its end."""
    if estimate.end_probability >= PAST_PROBABILITY:
        return True
    other = by_other_than_capacity(estimate)
    return other and estimate.end_ms is not None and estimate.end_ms.p50 <= now_ms


def by_other_than_capacity(estimate: Estimate) -> bool:
    """Whether age or carbon ends the cartridge before its capacity does."""
    return estimate.ends_by in ("time", "carbon") and estimate.end_ms is not None


def is_hard(line: LineFacts, estimate: Estimate) -> bool:
    """Whether the machine's water is more likely than not above the site's limit."""
    high = line.setup.limits.outlet_high_mmol_l
    outlet = estimate.outlet_mmol_l
    return high is not None and outlet is not None and outlet.p50 > high


def is_low(line: LineFacts, estimate: Estimate) -> bool:
    """Whether little is left, by the alarm or by the site's own limits."""
    if is_open(line, CAPACITY_LOW):
        return True
    limits = line.setup.limits
    share, litres = estimate.used_share, estimate.remaining_l
    if share is not None and 1 - share.p50 <= limits.litres_low_share:
        return True
    return (
        limits.litres_low_l is not None and litres is not None and litres.p50 <= limits.litres_low_l
    )


def _within_days(estimate: Estimate, line: LineFacts, now_ms: int) -> bool:
    assert estimate.end_ms is not None
    return estimate.end_ms.p50 - now_ms <= line.setup.limits.days_low * DAY_MS


def is_old(line: LineFacts, at_ms: int, now_ms: int) -> bool:
    """Whether a live value is older than three intervals."""
    return now_ms - at_ms > OLD_AFTER * line.every_ms + line.lag_ms
