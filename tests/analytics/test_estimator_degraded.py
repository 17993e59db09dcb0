"""Lines with few meters over whole lives: the range widens and goes on holding the truth."""

from __future__ import annotations

from functools import cache

import msgspec
import numpy as np
import pytest

from analytics.samples import (
    DAY_MS,
    AnyEvent,
    CartridgeFitted,
    CrossZero,
    Draws,
    Estimate,
    MeterReading,
    no_draws,
)
from analytics.setup import LineSetup
from analytics.weigh import start_weighing, weigh
from tests.quick_lives.life import QuickLife, quick_life

pytestmark = pytest.mark.timeout(480)
"""Whole lives, hour by hour, weighed once: in one process."""

LIVES = (0, 1, 2)
"""Undisturbed lives of a hydrogen, a mixed and a sodium bed with a pair of probes."""
SHARE = 0.7
"""How much of each life is lived before it is judged."""


@cache
def lives() -> tuple[QuickLife, ...]:
    return tuple(quick_life(number, 9, "normal") for number in LIVES)


def blank(draws: Draws, *names: str) -> Draws:
    nothing = np.full(len(draws), np.nan)
    return msgspec.structs.replace(draws, **{f"{name}_ec25_us_cm": nothing for name in names})


def a_day(life: QuickLife) -> float:
    """Litres a day as the owner might state them: a sixth off."""
    return 1.16 * float(life.truth.litres[-1]) / life.truth.days


def pair(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """All its meters."""
    return life.setup.lines[0], life.draws, life.setup.dated


def one_probe(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """No inlet probe."""
    line = msgspec.structs.replace(life.setup.lines[0], inlet_probe=False)
    return line, blank(life.draws, "inlet"), life.setup.dated


def no_flow_meter(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """Probes, but litres only as stated."""
    line = msgspec.structs.replace(life.setup.lines[0], flow_meter=False, litres_a_day=a_day(life))
    return (
        line,
        msgspec.structs.replace(life.draws, pulses=np.zeros(len(life.draws), dtype=np.int64)),
        life.setup.dated,
    )


def by_hand(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """Probes, and a water meter read by hand every ten days."""
    line, draws, dated = no_flow_meter(life)
    truth = life.truth
    readings = [
        MeterReading(
            at_ms=int(truth.hour_ms[hour]), event_id=f"m{hour}", litres=float(truth.litres[hour])
        )
        for hour in range(24, len(truth.hour_ms), 240)
    ]
    return line, draws, (*dated, *readings)


def tests_alone(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """No meter at all: drop tests and stated litres."""
    line = msgspec.structs.replace(
        life.setup.lines[0],
        flow_meter=False,
        outlet_probe=False,
        inlet_probe=False,
        litres_a_day=a_day(life),
    )
    dated = tuple(e for e in life.setup.dated if not isinstance(e, CrossZero))
    return line, no_draws(), dated


tests_alone.__test__ = False  # type: ignore[attr-defined]


def unknown_start(life: QuickLife) -> tuple[LineSetup, Draws, tuple[AnyEvent, ...]]:
    """Installed some time ago, part used: nobody knows by how much."""
    line, draws, dated = pair(life)
    begun = life.truth.begin_ms + round(0.3 * life.truth.days) * DAY_MS
    first = int(np.searchsorted(draws.start_ms, begun))
    fitted = CartridgeFitted(at_ms=begun, event_id="c", litres_before=None)
    later = tuple(
        msgspec.structs.replace(e, at_ms=max(e.at_ms, begun + 1))
        for e in dated
        if not isinstance(e, CartridgeFitted | CrossZero)
    )
    return line, draws.cut(first, len(draws)), (fitted, *later)


LAYOUTS = (pair, one_probe, no_flow_meter, by_hand, tests_alone, unknown_start)


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """One life at its mark: the estimate and the litres truly left."""

    estimate: Estimate
    left_l: float
    whole_l: float

    @property
    def wide(self) -> float:
        spread = self.estimate.remaining_l
        assert spread is not None
        return (spread.p95 - spread.p05) / self.whole_l

    @property
    def holds(self) -> bool:
        spread = self.estimate.remaining_l
        assert spread is not None
        return spread.p05 <= self.left_l <= spread.p95


@cache
def judged(layout: int) -> tuple[Judged, ...]:
    """Every life in this layout, with three tenths left."""
    found = []
    for life in lives():
        line, draws, events = LAYOUTS[layout](life)
        until = life.truth.when_left(1.0 - SHARE)
        assert until is not None
        seed = life.setup.seed
        _, estimates = weigh(
            line, life.setup.local_time, seed, start_weighing(line, seed), draws, events, until
        )
        left = life.truth.total_l - float(life.truth.litres_at([until])[0])
        found.append(Judged(estimate=estimates[-1], left_l=left, whole_l=life.truth.total_l))
    return tuple(found)


def width(layout: int) -> float:
    return float(np.median([each.wide for each in judged(layout)]))


@pytest.mark.parametrize("layout", range(len(LAYOUTS)), ids=lambda n: LAYOUTS[n].__name__)
def test_every_layout_gives_litres_and_days_with_an_honest_range(layout: int) -> None:
    """Litres and days left are there, in order, and most ranges hold the truth."""
    found = judged(layout)

    for each in found:
        days, left = each.estimate.days_left, each.estimate.remaining_l
        assert days is not None
        assert left is not None
        assert 0.0 <= left.p05 <= left.p50 <= left.p95 < 1e6
        assert 0.0 <= days.p05 <= days.p50 <= days.p95 < 1e4
    assert sum(each.holds for each in found) >= len(found) - 1


def test_what_is_not_measured_widens_the_range() -> None:
    """Without a flow meter it is wider than with one, without any meter too, and where the start is
    not known; readings by hand give back some of what the missing meter took."""
    names = [layout.__name__ for layout in LAYOUTS]
    wide = {name: width(place) for place, name in enumerate(names)}

    assert wide["no_flow_meter"] > 1.1 * wide["pair"]
    assert wide["tests_alone"] > 1.1 * wide["pair"]
    assert wide["unknown_start"] > wide["pair"]
    assert wide["by_hand"] < wide["no_flow_meter"]


@pytest.mark.parametrize(
    ("layout", "code"),
    [
        (one_probe, "no-inlet-probe"),
        (no_flow_meter, "stated-use"),
        (tests_alone, "no-probes"),
        (unknown_start, "start-unknown"),
    ],
)
def test_the_reason_is_among_the_remarks(layout: object, code: str) -> None:
    """What is missing is said with the figure, on lines whose medium conductivity can show."""
    place = next(n for n, each in enumerate(LAYOUTS) if each is layout)
    seen = [
        each
        for each, life in zip(judged(place), lives(), strict=True)
        if "hydrogen" in life.truth.medium
    ]

    assert seen
    assert all(code in {r.code for r in each.estimate.remarks} for each in seen)
