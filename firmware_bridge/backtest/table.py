"""The back-test as tables a person reads: errors, honesty, calibration, what was left out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from firmware_bridge.backtest.left_out import LeftOut
    from firmware_bridge.backtest.report import Row
    from firmware_bridge.backtest.score import Score

NAME = 19
MARKS_SHOWN = ("75", "50", "25", "10")
WORST = 5
WORST_AT = "25"

ERRORS = (
    "Litres left: how far off, median over the lives, in % of the whole life,\n"
    "when this much was truly left. The plain counter is set once, on the first day.\n"
)
HONESTY = (
    "The 5-95 % range, on every day between 90 % left and the end, and what was said in time.\n"
    "Missed: no warning between 35 % left and the end. False: an end called with more than 5 %\n"
    "left, a site-year. Named: changes of raw water called so within 24 hours / 3 days.\n"
)
CALIBRATION = (
    "Where the truth lay in the stated distribution: % of days in each tenth of it, from far\n"
    "below the figure to far above. An honest range has about 10 in each. Off: the greatest\n"
    "distance from that (0 is perfect, Kolmogorov-Smirnov).\n"
)


def tables(rows: Iterable[Row], scores: Iterable[Score], left_out: Iterable[LeftOut]) -> str:
    """All that is to be told, blocks set apart by empty lines."""
    rows = tuple(rows)
    blocks = [
        ERRORS + _lines([_errors_head(), *map(_errors, rows)]),
        HONESTY + _lines([_honesty_head(), *map(_honesty, rows)]),
        CALIBRATION + _lines([_calibration_head(), *map(_calibration, rows)]),
    ]
    return "\n".join([*blocks, *_worst(scores), *_left_out(left_out)])


def figure(value: float | None, digits: int = 1) -> str:
    """A number, or a dash where there is none."""
    return "-" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def _lines(lines: Iterable[str]) -> str:
    return "".join(f"  {line.rstrip()}\n" for line in lines)


def _errors_head() -> str:
    marks = "".join(f"{m + ' %':>8}" for m in MARKS_SHOWN)
    return f"{'':{NAME}}{'lives':>6}{marks}{'counter:':>11}{marks}"


def _errors(row: Row) -> str:
    own = "".join(f"{figure(row.error_pct[m]):>8}" for m in MARKS_SHOWN)
    counter = "".join(f"{figure(row.counter_error_pct[m]):>8}" for m in MARKS_SHOWN)
    return f"{row.group:{NAME}}{row.lives:>6}{own}{'':11}{counter}"


def _honesty_head() -> str:
    return (
        f"{'':{NAME}}{'in it':>7}{'under':>7}{'over':>6}{'outlet, dH off':>16}"
        f"{'missed':>9}{'counter':>9}{'false':>7}{'counter':>9}{'named':>15}"
    )


def _honesty(row: Row) -> str:
    held = f"{_percent(row.covered_pct)}"
    named = f"{row.named_24h} / {row.named_72h} of {row.switches}" if row.switches else "-"
    return (
        f"{row.group:{NAME}}{held:>7}{_percent(row.below_pct):>7}{_percent(row.above_pct):>6}"
        f"{figure(row.outlet_dh, 2):>16}{_of(row.missed, row.ends):>9}"
        f"{_of(row.counter_missed, row.ends):>9}{row.false_a_year:>7.2f}"
        f"{row.counter_false_a_year:>9.2f}{named:>15}"
    )


def _percent(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f} %"


def _of(count: int, whole: int) -> str:
    return f"{count} of {whole}" if whole else "-"


def _calibration_head() -> str:
    tenths = "".join(f"{n:>5}" for n in range(1, 11))
    return f"{'':{NAME}}{'days':>6} {tenths}{'off':>7}"


def _calibration(row: Row) -> str:
    tenths = "".join(f"{share:>5.0f}" for share in row.pit_tenths_pct)
    return f"{row.group:{NAME}}{row.days:>6} {tenths:50}{figure(row.pit_off, 2):>7}"


def _worst(scores: Iterable[Score]) -> list[str]:
    """The lives that were farthest off with a quarter left, in words."""
    known = [(e, s) for s in scores if (e := s.errors.get(WORST_AT)) is not None]
    known.sort(key=lambda pair: -abs(pair[0]))
    if not known:
        return []
    said = [_how_far(error, one) for error, one in known[:WORST]]
    return ["Farthest off with a quarter left:\n" + _lines(said)]


def _how_far(error: float, one: Score) -> str:
    side = "more" if error > 0 else "less"
    days = one.inside + one.below + one.above
    return (
        f"{one.name}: {100 * abs(error):.0f} % of the whole {side} than was there; "
        f"the range held the truth on {one.inside} of {days} days"
    )


def _left_out(left_out: Iterable[LeftOut]) -> list[str]:
    said = [f"{one.name}: {one.why}" for one in left_out]
    if not said:
        return []
    head = "1 recording was" if len(said) == 1 else f"{len(said)} recordings were"
    return [f"{head} left out:\n" + _lines(said)]
