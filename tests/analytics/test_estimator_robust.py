"""What must not lead the figure astray: wrong tests, gaps, exchanged probes, silent changes."""

from __future__ import annotations

import math
from functools import cache

import msgspec
import numpy as np
import pytest

from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    CrossZero,
    Draws,
    DropTest,
    Estimate,
    MeterReading,
    Point,
    Remark,
    no_draws,
)
from analytics.setup import CapacityKind, LineSetup
from analytics.unseen import Gaps
from analytics.weigh import start_weighing, weigh
from tests.analytics.test_estimator_evidence import FITTED, LOCAL, REPORT, SEED, hourly
from tests.makers import DH, MONDAY_MS, hydrogen_line
from tests.quick_lives.life import QuickLife, quick_life

pytestmark = pytest.mark.timeout(120)  # the first to ask for a water waits for its curves


def run(
    line: LineSetup, draws: Draws, *events: AnyEvent, days: float, gaps: Gaps = ()
) -> list[Estimate]:
    """All estimates of so many days."""
    until = MONDAY_MS + round(days * DAY_MS)
    begun = start_weighing(line, SEED)
    return list(weigh(line, LOCAL, SEED, begun, draws, events, until, gaps)[1])


def big(**changes: object) -> LineSetup:
    """A cartridge that lasts for months at 40 L a day."""
    return hydrogen_line(**({"capacity_mmol": 20_000.0 * DH} | changes))


def wide(estimate: Estimate) -> float:
    """Width of the used share's 5-95 % range."""
    assert estimate.used_share is not None
    return estimate.used_share.p95 - estimate.used_share.p05


def used(estimate: Estimate) -> float:
    assert estimate.used_share is not None
    return estimate.used_share.p50


def remark(estimate: Estimate, code: str) -> Remark | None:
    return next((n for n in estimate.remarks if n.code == code), None)


def raw_test(day: float, dh: float, name: str) -> DropTest:
    at_ms = MONDAY_MS + round(day * DAY_MS)
    return DropTest(at_ms=at_ms, event_id=name, point=Point.RAW, hardness_mmol_l=dh * DH)


# --- drop tests that contradict ------------------------------------------------------------------


def test_a_raw_test_against_all_others_is_flagged_with_what_was_expected() -> None:
    """Report and first test say 14, a third says 28: it is named, the figure widens and goes on."""
    tests = (raw_test(0.3, 14, "first"), raw_test(4, 28, "odd"))
    line = big(medium="sodium", capacity_kind=CapacityKind.TOTAL)
    found = run(line, hourly(6), FITTED, REPORT, *tests, days=6)[-1]
    plain = run(line, hourly(6), FITTED, REPORT, tests[0], days=6)[-1]
    said = remark(found, "drop-test-doubted")

    assert said is not None
    assert said.event_id == "odd"
    assert said.which == "raw-total"
    assert said.values["told_mmol_l"] == pytest.approx(28 * DH)
    assert said.values["high_mmol_l"] < 18 * DH
    assert remark(plain, "drop-test-doubted") is None
    assert wide(found) > 1.2 * wide(plain)


def test_a_third_test_decides_between_two_that_contradict() -> None:
    """14, then 28, then 27: the 28 is doubted no more, and raw water is taken for the harder."""
    tests = (raw_test(0.3, 14, "a"), raw_test(3, 28, "b"), raw_test(4, 27, "c"))
    found = run(hydrogen_line(), hourly(6), FITTED, REPORT, *tests, days=6)
    last = found[-1]

    assert last.raw_mmol_l is not None
    assert last.raw_mmol_l.p95 > 9 * DH
    assert remark(last, "drop-test-doubted") is None


def test_of_two_contradicting_tests_the_one_conductivity_speaks_against_is_named() -> None:
    """560 uS/cm and no report: a first count of 44 dH is likelier wrong than a second of 15."""
    tests = (raw_test(0.5, 44, "first"), raw_test(0.6, 15, "second"))
    found = run(hydrogen_line(), hourly(4), FITTED, *tests, days=4)[-1]
    said = remark(found, "drop-test-doubted")

    assert said is not None
    assert said.event_id == "first"


def test_a_hard_outlet_on_a_new_bed_leaves_both_ways_open() -> None:
    """A new sodium cartridge and 9 dH behind it: either the test is wrong or the bypass is open;
    the outlet's range holds both."""
    line = hydrogen_line(medium="sodium", capacity_kind=CapacityKind.TOTAL, bypass=0.1)
    test = DropTest(
        at_ms=MONDAY_MS + 3 * DAY_MS, event_id="t", point=Point.BLENDED, hardness_mmol_l=9 * DH
    )
    draws = hourly(5, outlet=560.0)
    found = run(line, draws, FITTED, REPORT, raw_test(0.3, 14, "r"), test, days=5)[-1]

    assert remark(found, "drop-test-doubted") is not None
    assert found.outlet_mmol_l is not None
    assert found.outlet_mmol_l.p05 < 3 * DH
    assert found.outlet_mmol_l.p95 > 6 * DH


# --- gaps ----------------------------------------------------------------------------------------


def without(draws: Draws, first_ms: int, until_ms: int) -> Draws:
    kept = np.flatnonzero((draws.end_ms < first_ms) | (draws.end_ms >= until_ms))
    return Draws(**{n: getattr(draws, n)[kept] for n in draws.__struct_fields__})


@pytest.mark.parametrize("gap_days", [2, 7, 21])
def test_litres_of_a_gap_are_added_with_their_doubt_and_said(gap_days: int) -> None:
    """Two usual weeks, then no rows: what is usual is added, the range is wider than if all had
    been counted, and a remark says hours and litres."""
    begin, days = MONDAY_MS + 14 * DAY_MS, 14 + gap_days + 2
    end = begin + gap_days * DAY_MS
    draws, facts = hourly(days), (FITTED, REPORT)
    counted = run(big(), draws, *facts, days=days)[-1]
    missed = run(big(), without(draws, begin, end), *facts, days=days, gaps=((begin, end),))[-1]
    said = remark(missed, "gap-unseen")

    assert said is not None
    assert said.values["hours"] == pytest.approx(24 * gap_days, rel=0.05)
    assert said.values["litres"] == pytest.approx(40 * gap_days, rel=0.1)
    assert used(missed) == pytest.approx(used(counted), rel=0.15)
    assert wide(missed) > wide(counted)


def test_a_gap_in_the_first_days_widens_although_no_habit_is_known() -> None:
    """The logger fails on the second day for three days: the range is much wider, not wrong."""
    begin, end = MONDAY_MS + DAY_MS, MONDAY_MS + 4 * DAY_MS
    draws = hourly(5)
    counted = run(big(), draws, FITTED, REPORT, days=5)[-1]
    missed = run(big(), without(draws, begin, end), FITTED, REPORT, days=5, gaps=((begin, end),))[
        -1
    ]

    assert counted.used_share is not None
    assert missed.used_share is not None
    assert missed.used_share.p05 <= counted.used_share.p50 <= missed.used_share.p95
    assert wide(missed) > 1.3 * wide(counted)


def test_a_gap_that_goes_on_is_told_while_it_does() -> None:
    """In the middle of a gap the remark says since when; after it, no more."""
    begin, end = MONDAY_MS + 14 * DAY_MS, MONDAY_MS + 16 * DAY_MS
    draws = without(hourly(18), begin, end)
    found = run(big(), draws, FITTED, REPORT, days=18, gaps=((begin, end),))
    during = [e for e in found if begin < e.at_ms < end][-1]

    assert remark(during, "gap-running") is not None
    assert remark(found[-1], "gap-running") is None


# --- meters --------------------------------------------------------------------------------------


def turned(draws: Draws, from_row: int) -> Draws:
    """The same draws with the probes exchanged from a row on."""
    later = np.arange(len(draws)) >= from_row
    a, b = draws.outlet_ec25_us_cm, draws.inlet_ec25_us_cm
    return msgspec.structs.replace(
        draws,
        outlet_ec25_us_cm=np.where(later, b, a),
        inlet_ec25_us_cm=np.where(later, a, b),
    )


@pytest.mark.parametrize("from_row", [0, 45])
def test_exchanged_probes_are_named_and_read_the_other_way_round(from_row: int) -> None:
    """From the first day or from the fifth: the figure is that of probes in their places."""
    draws, line = hourly(9), hydrogen_line()
    plain = run(line, draws, FITTED, REPORT, days=9)[-1]
    found = run(line, turned(draws, from_row), FITTED, REPORT, days=9)[-1]

    assert remark(found, "probes-exchanged") is not None
    assert remark(plain, "probes-exchanged") is None
    assert used(found) == pytest.approx(used(plain), rel=0.1)
    assert found.change != "source"


def test_exchanged_probes_put_right_again_are_read_as_they_are() -> None:
    """Exchanged on the fourth day, put right on the seventh: no remark is left."""
    draws = turned(turned(hourly(10), 30), 60)
    found = run(hydrogen_line(), draws, FITTED, REPORT, days=10)

    assert any(remark(e, "probes-exchanged") for e in found)
    assert remark(found[-1], "probes-exchanged") is None


def test_the_gain_of_exchanged_probes_is_turned_with_them() -> None:
    """Both probes in raw water read 3 % apart, by names that are exchanged: with them put right
    the bypass comes out as with right names."""

    def zero(outlet: float, inlet: float) -> CrossZero:
        return CrossZero(
            at_ms=MONDAY_MS + 1000,
            event_id="x",
            outlet_us_cm=outlet,
            outlet_temp_c=25.0,
            inlet_us_cm=inlet,
            inlet_temp_c=25.0,
        )

    line, draws = hydrogen_line(), hourly(5)
    plain = run(line, draws, FITTED, REPORT, zero(577.0, 560.0), days=5)[-1]
    found = run(line, turned(draws, 0), FITTED, REPORT, zero(560.0, 577.0), days=5)[-1]

    assert plain.bypass is not None
    assert found.bypass is not None
    assert found.bypass.p50 == pytest.approx(plain.bypass.p50, abs=0.02)


def test_a_film_on_the_inlet_probe_does_not_exchange_the_probes() -> None:
    """The inlet creeps down by half: no step, so nothing is put the other way round."""
    draws = hourly(30)
    film = np.exp(-0.7 * np.arange(len(draws)) / len(draws))
    draws = msgspec.structs.replace(draws, inlet_ec25_us_cm=draws.inlet_ec25_us_cm * film)
    found = run(hydrogen_line(), draws, FITTED, REPORT, days=30)[-1]

    assert remark(found, "probes-exchanged") is None


@pytest.mark.parametrize("probe", ["outlet", "inlet"])
def test_a_film_on_either_probe_is_named_and_leaves_the_figure_where_it_was(probe: str) -> None:
    """A probe of a pair creeps down by a third in three weeks, the other stays: that one has a
    film; raw hardness is held, the used share about, and no end is called."""
    draws = hourly(32)
    days = (draws.end_ms - draws.end_ms[0]) / DAY_MS
    film = np.exp(-0.35 * (1.0 - np.exp(-np.maximum(days - 8.0, 0.0) / 12.0)))
    name = f"{probe}_ec25_us_cm"
    spoilt = msgspec.structs.replace(draws, **{name: getattr(draws, name) * film})
    plain = run(big(), draws, FITTED, REPORT, days=32)[-1]
    found = run(big(), spoilt, FITTED, REPORT, days=32)[-1]
    assert found.raw_mmol_l is not None
    assert plain.raw_mmol_l is not None

    assert remark(found, f"{probe}-film") is not None
    assert remark(plain, f"{probe}-film") is None
    assert found.raw_mmol_l.p50 == pytest.approx(plain.raw_mmol_l.p50, rel=0.12)
    assert used(found) == pytest.approx(used(plain), abs=0.15)
    assert found.end_probability < 0.2


def test_the_first_litres_of_an_unflushed_cartridge_do_not_count_and_are_said() -> None:
    """Twelve litres that conduct half as much again: no change is called, the remark says why."""
    draws = hourly(6)
    first = np.where(np.arange(len(draws)) < 3, 1.5, 1.0)
    spoilt = msgspec.structs.replace(draws, outlet_ec25_us_cm=draws.outlet_ec25_us_cm * first)
    plain = run(hydrogen_line(), draws, FITTED, REPORT, days=6)[-1]
    found = run(hydrogen_line(), spoilt, FITTED, REPORT, days=6)

    assert remark(found[-1], "not-flushed") is not None
    assert remark(plain, "not-flushed") is None
    assert not any(e.change for e in found)
    assert used(found[-1]) == pytest.approx(used(plain), rel=0.05)


def test_a_hand_reading_shows_a_k_factor_that_is_far_off() -> None:
    """The meter counts 40 L where 80 flow: after two readings by hand the used share about doubles,
    as far as probes that show no front let it."""
    readings = [
        MeterReading(at_ms=MONDAY_MS + d * DAY_MS, event_id=f"m{d}", litres=80.0 * d)
        for d in (1, 9)
    ]
    plain = run(hydrogen_line(), hourly(10), FITTED, REPORT, days=10)[-1]
    found = run(hydrogen_line(), hourly(10), FITTED, REPORT, *readings, days=10)[-1]
    said = remark(found, "k-factor-off")

    assert used(found) == pytest.approx(2.0 * used(plain), rel=0.25)
    assert said is not None
    assert said.values["factor"] == pytest.approx(0.5, rel=0.05)
    assert remark(plain, "k-factor-off") is None


# --- a cartridge that was changed without a word -------------------------------------------------


@cache
def spent(number: int) -> QuickLife:
    """A whole life, used up beyond its end."""
    return quick_life(number, 5, "overrun")


def twice(life: QuickLife) -> Draws:
    """The life's draws, then those of its first third again, as after a change nobody entered."""
    draws = life.draws
    third = int(np.searchsorted(np.cumsum(draws.pulses), draws.pulses.sum() / 3))
    again, shift = draws.cut(0, third), int(draws.end_ms[-1] - draws.start_ms[0]) + HOUR_MS
    again = msgspec.structs.replace(
        again, start_ms=again.start_ms + shift, end_ms=again.end_ms + shift
    )
    return Draws(
        **{
            n: np.concatenate((getattr(draws, n), getattr(again, n)))
            for n in draws.__struct_fields__
        }
    )


@pytest.mark.timeout(300)  # a life and a third, hour by hour
def test_a_change_behind_a_hydrogen_pair_moves_the_figure_at_once() -> None:
    """Whether it is named or not, a new bed is not called a spent one for long."""
    life = spent(0)
    line, draws = life.setup.lines[0], twice(life)
    old_end = int(life.draws.end_ms[-1])
    _, found = weigh(line, LOCAL, SEED, start_weighing(line, SEED), draws, life.setup.dated,
                     int(draws.end_ms[-1]))  # fmt: skip
    after = next(e for e in found if e.at_ms > old_end + 3 * DAY_MS)

    assert (line.medium, line.inlet_probe) == ("hydrogen", True)
    assert used(after) < 0.3
    assert after.end_probability < 0.5


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_change_nobody_entered_is_found_and_the_old_cartridge_closed(seed: int) -> None:
    """Behind a spent bed (hydrogen, mixed) the water is soft again from one hour to the next."""
    life = spent(seed)
    line, draws = life.setup.lines[0], twice(life)
    last_ms = int(draws.end_ms[-1])
    begun = start_weighing(line, SEED)
    _, found = weigh(line, LOCAL, SEED, begun, draws, life.setup.dated, last_ms)
    old_end = int(life.draws.end_ms[-1])
    before = [e for e in found if e.at_ms <= old_end][-1]
    after = next(e for e in found if e.at_ms > old_end + 9 * DAY_MS)
    told = [e for e in found if remark(e, "cartridge-unannounced")]

    assert before.end_probability > 0.8
    assert told
    assert told[0].at_ms - old_end < 3 * DAY_MS
    assert after.cartridge_id.startswith("unannounced-")
    assert after.cartridge_id != before.cartridge_id
    assert after.end_probability < 0.1
    assert used(after) < 0.6
    assert after.litres_passed < 0.5 * before.litres_passed


# --- the start is not known ----------------------------------------------------------------------


def test_an_unknown_start_is_said_and_its_range_is_wide() -> None:
    """Fitted some time ago, part used: nearly the whole life is possible, in words too."""
    fitted = CartridgeFitted(at_ms=MONDAY_MS, event_id="a", litres_before=None)
    found = run(big(), hourly(6), fitted, REPORT, days=6)[-1]

    assert remark(found, "start-unknown") is not None
    assert wide(found) > 0.6
    assert found.remaining_l is not None
    assert math.isfinite(found.remaining_l.p95)


def test_a_part_used_start_lies_between_new_and_unknown() -> None:
    """About 900 L before, give or take 250: narrower than unknown, wider than new."""
    facts = [
        CartridgeFitted(at_ms=MONDAY_MS, event_id="a", litres_before=b, litres_before_sd=sd)
        for b, sd in ((0.0, 0.0), (900.0, 250.0), (None, 0.0))
    ]
    new, part, unknown = (run(big(), hourly(4), fact, REPORT, days=4)[-1] for fact in facts)

    assert wide(new) < wide(part) < wide(unknown)
    assert used(part) > used(new)


# --- few meters ----------------------------------------------------------------------------------

NO_METERS = {"outlet_probe": False, "inlet_probe": False, "flow_meter": False}


@pytest.mark.parametrize(
    ("settings", "codes"),
    [
        ({"inlet_probe": False}, {"no-inlet-probe"}),
        ({"flow_meter": False, "litres_a_day": 40.0}, {"stated-use"}),
        (NO_METERS | {"litres_a_day": 40.0}, {"stated-use", "no-probes"}),
        (NO_METERS, {"use-unknown", "no-probes"}),
        ({"medium": "sodium"}, {"medium-unseen"}),
        ({"capacity_mmol": None}, {"no-capacity"}),
    ],
)
def test_what_a_line_lacks_is_said(settings: dict[str, object], codes: set[str]) -> None:
    """Every missing meter or figure has its own remark; the first is the estimate's reason."""
    line = big(**settings)
    draws = hourly(3) if line.flow_meter else no_draws()
    found = run(line, draws, FITTED, REPORT, days=3)[-1]

    assert codes <= {n.code for n in found.remarks}
    assert found.reason == found.remarks[0].code


@pytest.mark.parametrize("settings", [{}, {"inlet_probe": False}, NO_METERS])
def test_the_fewer_the_meters_the_wider_the_range(settings: dict[str, object]) -> None:
    """Litres and days left stay, ordered and finite, with 40 L a day stated where none counts."""
    line = big(**settings, litres_a_day=40.0)
    draws = hourly(12) if line.flow_meter else no_draws()
    found = run(line, draws, FITTED, REPORT, days=12)[-1]
    best = run(big(), hourly(12), FITTED, REPORT, days=12)[-1]

    assert found.remaining_l is not None
    assert found.days_left is not None
    assert 0.0 <= found.remaining_l.p05 < found.remaining_l.p50 < found.remaining_l.p95
    assert 0.0 <= found.days_left.p05 < found.days_left.p50 < found.days_left.p95
    assert wide(found) >= 0.95 * wide(best)
