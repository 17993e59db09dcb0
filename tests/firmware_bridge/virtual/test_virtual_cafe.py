"""The virtual café: the same for the same seed, a real cartridge's life, the real way through."""

from __future__ import annotations

import asyncio
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from blockbuster import blockbuster_ctx

from analytics.registry import discover
from analytics.samples import DAY_MS, HOUR_MS, ROW_COLUMNS, Flag, Rows, join_rows, no_rows
from firmware_bridge.clock import VirtualClock
from firmware_bridge.config.meter_options.virtual_cafe import VirtualCafe as Options
from firmware_bridge.meters import Asked, Meter, reading_task
from firmware_bridge.meters.virtual_cafe import METER, joined_to
from firmware_bridge.readings.lot import Lot
from firmware_bridge.virtual.bed import BedWater, SCurveBed
from firmware_bridge.virtual.cafe import VirtualCafe, rows_of_life
from firmware_bridge.virtual.week import OPENING, Week

MONDAY = 1_757_894_400_000
"""2025-09-15 00:00 UTC."""


def same(first: Rows, second: Rows) -> bool:
    """Whether two blocks are alike to the last bit."""
    return all(
        np.array_equal(getattr(first, name), getattr(second, name), equal_nan=name[-1] in "mc")
        for name in ROW_COLUMNS
    )


@pytest.fixture(scope="module")
def week_of_rows() -> Rows:
    """Seven days of the café."""
    return rows_of_life(days=7, start_ms=MONDAY, seed=4)


def test_the_same_seed_is_the_same_life(week_of_rows: Rows) -> None:
    """Every figure repeats for the same seed; another seed is another week."""
    day = rows_of_life(days=1, start_ms=MONDAY, seed=4)

    assert same(day, week_of_rows.cut(0, len(day)))
    assert not same(day, rows_of_life(days=1, start_ms=MONDAY, seed=5).cut(0, len(day)))


def test_no_row_is_later_than_a_minute(week_of_rows: Rows) -> None:
    """There is a heartbeat each 60 s, and while water runs a row about every ten."""
    gaps = np.diff(week_of_rows.at_ms)

    assert gaps.max() <= 60_000
    assert gaps.min() >= 10_000
    assert (week_of_rows.flags == Flag.SIMULATED).all()


def test_water_runs_only_in_opening_hours(week_of_rows: Rows) -> None:
    """Nobody draws water while the place is shut."""
    at, pulses = week_of_rows.at_ms, week_of_rows.pulses
    minute = (at % DAY_MS) // 60_000
    day = ((at - MONDAY) // DAY_MS) % 7
    first = np.array([hours[0] for hours in OPENING])[day]
    last = np.array([hours[1] for hours in OPENING])[day]

    assert pulses[(minute < first) | (minute > last + 20)].sum() == 0
    litres_a_day = pulses.sum() / 1000.0 / 7.0
    assert 60.0 < litres_a_day < 180.0


def test_draws_do_not_overlap() -> None:
    """One draw ends before the next begins, on every day."""
    week = Week(3)
    for day in range(20_000, 20_030):
        draws = week.draws(day)
        assert all(a.stop_ms < b.start_ms for a, b in pairwise(draws))
        assert all(draw.litres > 0 for draw in draws)


def test_a_closed_day_has_no_draws() -> None:
    """(0, 0) in the opening hours is a closed day."""
    week = Week(3, opening=((0, 0),) * 7)

    assert week.draws(20_000) == []


def test_water_that_stands_warms(week_of_rows: Rows) -> None:
    """At night the pipe is at room temperature; in the rush it is near the main's."""
    hour = (week_of_rows.at_ms % DAY_MS) // HOUR_MS
    night = week_of_rows.inlet_temp_c[hour == 4].mean()
    rush = week_of_rows.inlet_temp_c[hour == 9].mean()

    assert night - rush > 2.0


def test_a_cartridge_lives_and_dies() -> None:
    """The outlet goes from fresh to raw water around the stated life, and a new one is fresh."""
    cafe = VirtualCafe(start_ms=MONDAY, seed=2, bed=SCurveBed(life_l=300.0))
    fresh = cafe.truth()
    while cafe.truth().cartridge_l < 300.0:
        cafe.look(0)
    at_the_end = cafe.truth()
    while cafe.truth().cartridge_l < 450.0:
        cafe.look(0)
    dead = cafe.truth()
    cafe.fit_cartridge(SCurveBed(life_l=300.0))

    assert fresh.hardness_mmol_l < at_the_end.hardness_mmol_l < dead.hardness_mmol_l
    assert dead.hardness_mmol_l == pytest.approx(2.85 * dead.raw_factor, rel=0.02)
    assert cafe.truth().hardness_mmol_l == pytest.approx(fresh.hardness_mmol_l, rel=0.1)
    assert cafe.truth().litres == dead.litres


def test_at_the_end_of_life_a_fifth_is_back() -> None:
    """The default bed's life is the trade's end of capacity."""
    bed = SCurveBed(life_l=4000.0)

    assert bed.back(4000.0) == pytest.approx(0.2)


def test_any_bed_can_take_the_place() -> None:
    """A function of litres is a bed."""
    asked: list[float] = []

    def bed(litres: float) -> BedWater:
        asked.append(litres)
        return BedWater(500.0, 1.0)

    rows = rows_of_life(days=0.5, start_ms=MONDAY, seed=1, bed=bed, inlet_probe=False)

    assert asked == sorted(asked)
    assert np.isnan(rows.inlet_us_cm).all()
    assert np.isfinite(rows.outlet_us_cm).all()


def test_meters_are_found_by_their_files() -> None:
    """Every file in the folder is a meter under its own name."""
    assert {"node-serial", "virtual-cafe"} <= set(
        discover("firmware_bridge.meters", "METER", Meter)
    )


async def lived(seed: int, days: float, speed: float) -> tuple[Rows, VirtualCafe, Any]:
    """Days of a café through the pseudo-terminal and the real task."""
    clock = VirtualClock(MONDAY, speed)
    cafe = VirtualCafe(start_ms=MONDAY, seed=seed)
    joined = joined_to(cafe, "bar", clock)
    asked = Asked(meter_id="cafe", line_id="bar", options=Options(seed=seed), clock=clock)
    rows = no_rows()
    enough = asyncio.Event()

    async def deliver(lot: Lot) -> None:
        nonlocal rows
        for taken in lot.taken:
            rows = join_rows(rows, taken.rows)
            task.confirm(taken.boot_id, int(taken.frame_seq[-1]))
        if rows.at_ms[-1] > MONDAY + days * DAY_MS:
            enough.set()

    task = reading_task(asked, joined, deliver, every_s=0.1)
    assert joined.life is not None
    running = [asyncio.create_task(task.run()), asyncio.create_task(joined.life())]
    with blockbuster_ctx():  # nothing here may hold up the event loop
        async with asyncio.timeout(18):
            await enough.wait()
        for one in running:
            one.cancel()
        await asyncio.gather(*running, return_exceptions=True)
    return rows, cafe, task.health


async def test_a_fast_life_arrives_whole_through_the_real_path() -> None:
    """At 10 000 times real speed every row arrives once, with the figures it has without a wire."""
    rows, cafe, health = await lived(seed=6, days=0.6, speed=10_000.0)
    alone = rows_of_life(days=0.6, start_ms=MONDAY, seed=6)
    many = min(len(rows), len(alone))

    assert many > 1000
    assert np.array_equal(rows.pulses[:many], alone.pulses[:many])
    assert rows.outlet_us_cm[:many] == pytest.approx(alone.outlet_us_cm[:many])
    stretch = np.diff(rows.at_ms[:many]) / np.diff(alone.at_ms[:many])
    assert stretch.min() >= 0.49
    assert stretch.max() <= 1.01
    assert health.counts["rows_lost"] == 0
    assert cafe.node.confirmed() > 0


def test_the_meter_joins_with_its_options() -> None:
    """The registry's entry makes a link, a driver and a life."""
    clock = VirtualClock(MONDAY)
    joined = METER.join(Asked(meter_id="cafe", line_id="bar", options=Options(seed=3), clock=clock))

    assert joined.life is not None
    assert joined.driver.line_id == "bar"
