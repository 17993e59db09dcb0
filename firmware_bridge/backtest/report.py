"""The table of a back-test: per medium and layout, the estimate beside a plain counter."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec
import numpy as np

from analytics.quantities import DH_MMOL_L
from firmware_bridge.backtest.calibration import calibration_svg, off_flat, tenths_pct
from firmware_bridge.backtest.left_out import LeftOut
from firmware_bridge.backtest.score import Score
from firmware_bridge.backtest.table import MARKS_SHOWN, tables

NAMED_H = (24.0, 72.0)


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One group of lives. Errors are medians of absolute errors, % of the true total; coverage,
    `below` and `above` in % of days; a figure is None where there is nothing to take it from.
    `pit_tenths_pct` is the share of days on which truth lay in each tenth of the stated
    distribution, `pit_off` its greatest distance from an honest one (Kolmogorov-Smirnov)."""

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
    days: int
    pit_tenths_pct: tuple[float, ...]
    pit_off: float | None


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """Scores of all lives, and what they amount to; `left_out` could not be scored."""

    scores: tuple[Score, ...]
    left_out: tuple[LeftOut, ...] = ()

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
        """The tables for a person."""
        return tables(self.rows(), self.scores, self.left_out)

    def json(self) -> bytes:
        """Rows and scores as JSON."""
        return msgspec.json.format(
            msgspec.json.encode(
                {"groups": self.rows(), "lives": self.scores, "left_out": self.left_out}
            ),
            indent=2,
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
    pits = [p for s in scores for p in s.pit]
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
        days=days,
        pit_tenths_pct=tenths_pct(pits),
        pit_off=off_flat(pits),
    )


def _median_pct(errors: Iterable[float | None]) -> float | None:
    known = [100.0 * abs(e) for e in errors if e is not None]
    return float(np.median(known)) if known else None


def _median_dh(values: Iterable[float | None]) -> float | None:
    known = [v / DH_MMOL_L for v in values if v is not None]
    return float(np.median(known)) if known else None


def _part(count: int, total: int) -> float | None:
    return 100.0 * count / total if total else None
