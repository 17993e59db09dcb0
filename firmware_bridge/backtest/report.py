"""The table of a back-test: per medium and layout, the estimate beside a plain counter."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import msgspec
import numpy as np

from analytics.quantities import DH_MMOL_L
from firmware_bridge.backtest.calibration import calibration_svg
from firmware_bridge.backtest.score import Score

NAMED_H = (24.0, 72.0)
MARKS_SHOWN = ("50", "25", "10")
HEADER = (
    f"{'':18}{'lives':>6} {'error %, at 50/25/10 left':>25} {'counter':>20} "
    f"{'in range':>9} {'low/high':>9} {'outlet dH':>10} {'missed':>8} {'counter':>8} "
    f"{'false/yr':>9} {'named 24 h':>11} {'72 h':>6}"
)


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One group of lives. Errors are medians of absolute errors, % of the true total; coverage,
    `below` and `above` in % of days; a figure is None where there is nothing to take it from."""

    group: str
    lives: int
    error_pct: dict[str, float | None]
    counter_error_pct: dict[str, float | None]
    covered_pct: float | None
    below_pct: float | None
    above_pct: float | None
    outlet_dh: float | None
    counter_outlet_dh: float | None
    ends: int
    missed: int
    counter_missed: int
    false_a_year: float
    counter_false_a_year: float
    switches: int
    named_24h: int
    named_72h: int
    false_changes_a_year: float
    seconds: float


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """Scores of all lives, and what they amount to."""

    scores: tuple[Score, ...]

    def rows(self) -> tuple[Row, ...]:
        """All lives, both layouts, then every medium and layout there is."""
        kinds = sorted({(s.medium, s.layout) for s in self.scores})
        groups: list[tuple[str, Callable[[Score], bool]]] = [
            ("all", lambda s: True),
            ("pair", lambda s: s.layout == "pair"),
            ("outlet alone", lambda s: s.layout != "pair"),
        ]
        groups += [(f"{m}, {k}", _is(m, k)) for m, k in kinds]
        found = [(name, [s for s in self.scores if wanted(s)]) for name, wanted in groups]
        return tuple(_row(name, scores) for name, scores in found if scores)

    def text(self) -> str:
        """The table for a person."""
        return "\n".join((HEADER, *(_line(row) for row in self.rows()))) + "\n"

    def json(self) -> bytes:
        """Rows and scores as JSON."""
        return msgspec.json.format(
            msgspec.json.encode({"groups": self.rows(), "lives": self.scores}), indent=2
        )

    def plot(self) -> str:
        """Where truth lay in the ranges, as an SVG: flat bars are an honest range."""
        pooled = {row.group: _pits(self.scores, row.group) for row in self.rows()}
        return calibration_svg(pooled)


def _is(medium: str, layout: str) -> Callable[[Score], bool]:
    return lambda s: (s.medium, s.layout) == (medium, layout)


def _pits(scores: Iterable[Score], group: str) -> list[float]:
    return [
        p
        for s in scores
        for p in s.pit
        if group in ("all", s.layout, f"{s.medium}, {s.layout}")
        or (group == "outlet alone" and s.layout == "outlet")
    ]


def _row(name: str, scores: list[Score]) -> Row:
    days = sum(s.inside + s.below + s.above for s in scores)
    years = sum(s.years for s in scores)
    missed = [s for s in scores if s.missed is not None]
    named = [h for s in scores for h in s.named_h]
    return Row(
        group=name,
        lives=len(scores),
        error_pct={k: _median_pct(s.errors.get(k) for s in scores) for k in MARKS_SHOWN},
        counter_error_pct={
            k: _median_pct(s.counter_errors.get(k) for s in scores) for k in MARKS_SHOWN
        },
        covered_pct=_part(sum(s.inside for s in scores), days),
        below_pct=_part(sum(s.below for s in scores), days),
        above_pct=_part(sum(s.above for s in scores), days),
        outlet_dh=_median_dh(s.outlet_mmol_l for s in scores),
        counter_outlet_dh=_median_dh(s.counter_outlet_mmol_l for s in scores),
        ends=len(missed),
        missed=sum(bool(s.missed) for s in missed),
        counter_missed=sum(bool(s.counter_missed) for s in missed),
        false_a_year=sum(s.false_alarms for s in scores) / max(years, 1e-9),
        counter_false_a_year=sum(s.counter_false_alarms for s in scores) / max(years, 1e-9),
        switches=len(named),
        named_24h=sum(h is not None and h <= NAMED_H[0] for h in named),
        named_72h=sum(h is not None and h <= NAMED_H[1] for h in named),
        false_changes_a_year=sum(s.false_changes for s in scores) / max(years, 1e-9),
        seconds=sum(s.seconds for s in scores),
    )


def _median_pct(errors: Iterable[float | None]) -> float | None:
    known = [100.0 * abs(e) for e in errors if e is not None]
    return float(np.median(known)) if known else None


def _median_dh(values: Iterable[float | None]) -> float | None:
    known = [v / DH_MMOL_L for v in values if v is not None]
    return float(np.median(known)) if known else None


def _part(count: int, total: int) -> float | None:
    return 100.0 * count / total if total else None


def _line(row: Row) -> str:
    errors = " / ".join(_figure(row.error_pct[k]) for k in MARKS_SHOWN)
    counter = " / ".join(_figure(row.counter_error_pct[k]) for k in MARKS_SHOWN)
    sides = f"{_figure(row.below_pct, 0)}/{_figure(row.above_pct, 0)}"
    return (
        f"{row.group:18}{row.lives:>6} {errors:>25} {counter:>20} "
        f"{_figure(row.covered_pct, 0):>9} {sides:>9} {_figure(row.outlet_dh, 2):>10} "
        f"{f'{row.missed}/{row.ends}':>8} {f'{row.counter_missed}/{row.ends}':>8} "
        f"{row.false_a_year:>9.2f} {f'{row.named_24h}/{row.switches}':>11} "
        f"{f'{row.named_72h}/{row.switches}':>6}"
    )


def _figure(value: float | None, digits: int = 1) -> str:
    return "-" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"
