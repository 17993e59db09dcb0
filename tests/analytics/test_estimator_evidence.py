"""What each kind of evidence does to the figure, on plain lines."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analytics.samples import (
    DAY_MS,
    DRAW_COLUMNS,
    DRAW_WHOLE,
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    CrossZero,
    Draws,
    DropTest,
    Estimate,
    MeterReading,
    Point,
    UtilityReport,
    no_draws,
)
from analytics.setup import CapacityKind, LineSetup, LocalTime
from analytics.weigh import start_weighing, weigh
from tests.makers import DH, MONDAY_MS, hydrogen_line

pytestmark = pytest.mark.timeout(120)  # the first to ask for a water waits for its curves

LOCAL = LocalTime()
SEED = 11


def hourly(days: int, litres_an_hour: float = 4.0, outlet: float = 330.0) -> Draws:
    """A draw an hour, ten hours a day; inlet 560 uS/cm."""
    at = [
        MONDAY_MS + d * DAY_MS + h * HOUR_MS + 1_800_000 for d in range(days) for h in range(8, 18)
    ]
    n = len(at)
    rng = np.random.default_rng(3)
    given = {
        "start_ms": np.array(at) - 60_000,
        "end_ms": np.array(at),
        "pulses": np.full(n, round(1000 * litres_an_hour)),
        "outlet_ec25_us_cm": outlet * (1.0 + 0.002 * rng.standard_normal(n)),
        "inlet_ec25_us_cm": 560.0 * (1.0 + 0.002 * rng.standard_normal(n)),
        "outlet_temp_c": np.full(n, 15.0),
        "inlet_temp_c": np.full(n, 15.0),
    }
    rest = {
        name: np.zeros(n, dtype=np.int64) if name in DRAW_WHOLE else np.full(n, np.nan)
        for name in DRAW_COLUMNS
        if name not in given
    }
    return Draws(**given, **rest)


FITTED = CartridgeFitted(at_ms=MONDAY_MS, event_id="a", cartridge_id="HS-1", litres_before=0.0)
REPORT = UtilityReport(
    at_ms=MONDAY_MS, event_id="b", hardness_mmol_l=14 * DH, alkalinity_meq_l=20 * DH
)


def run(line: LineSetup, draws: Draws, *events: AnyEvent, days: int) -> list[Estimate]:
    until = MONDAY_MS + days * DAY_MS
    _, found = weigh(line, LOCAL, SEED, start_weighing(line, SEED), draws, events, until)
    return list(found)


def left(estimate: Estimate) -> tuple[float, float, float]:
    assert estimate.remaining_l is not None
    return estimate.remaining_l.p05, estimate.remaining_l.p50, estimate.remaining_l.p95


@pytest.mark.parametrize("medium", ["hydrogen", "mixed", "sodium", "magnesium", "carbon"])
@pytest.mark.parametrize("pair", [True, False])
def test_any_medium_and_layout_gives_figures_in_order_and_never_nan(
    medium: str, pair: bool
) -> None:
    """Litres left fall while litres pass; every figure is finite."""
    kinds = {"sodium": CapacityKind.TOTAL, "magnesium": CapacityKind.CALCIUM}
    line = hydrogen_line(
        medium=medium,
        inlet_probe=pair,
        capacity_kind=kinds.get(medium, CapacityKind.CARBONATE),
        rated_l=2000.0 if medium == "carbon" else None,
        capacity_mmol=None if medium == "carbon" else 3600.0 * DH,
    )
    found = [e for e in run(line, hourly(6), FITTED, REPORT, days=6) if e.remaining_l is not None]

    assert left(found[-1])[1] < left(found[0])[1]
    for estimate in found:
        low, middle, high = left(estimate)
        assert 0.0 <= low <= middle <= high < 1e6


def test_without_a_flow_meter_stated_litres_a_day_count_and_the_range_is_wider() -> None:
    """No pulses at all: the answer widens, it does not stop."""
    counted = run(hydrogen_line(), hourly(8), FITTED, REPORT, days=8)[-1]
    stated = hydrogen_line(flow_meter=False, litres_a_day=40.0)
    blind = msgspec.structs.replace(hourly(8), pulses=np.zeros(80, dtype=np.int64))
    guessed = run(stated, blind, FITTED, REPORT, days=8)[-1]

    assert counted.used_share is not None
    assert guessed.used_share is not None
    assert guessed.used_share.p50 == pytest.approx(counted.used_share.p50, rel=0.25)
    assert _width(guessed) > 1.2 * _width(counted)


def _width(estimate: Estimate) -> float:
    used = estimate.used_share
    assert used is not None
    return (used.p95 - used.p05) / used.p50


def test_hand_readings_of_a_water_meter_narrow_what_stated_use_leaves_open() -> None:
    """Two readings that say 60 L a day where 40 were stated raise the used share by half."""
    line = hydrogen_line(flow_meter=False, litres_a_day=40.0, outlet_probe=False, inlet_probe=False)
    readings = [
        MeterReading(at_ms=MONDAY_MS + d * DAY_MS, event_id=f"m{d}", litres=60.0 * d)
        for d in (1, 9)
    ]
    plain = run(line, no_draws(), FITTED, REPORT, days=10)[-1]
    read = run(line, no_draws(), FITTED, REPORT, *readings, days=10)[-1]

    assert plain.used_share is not None
    assert read.used_share is not None
    assert read.used_share.p50 == pytest.approx(1.5 * plain.used_share.p50, rel=0.15)
    assert _width(read) < _width(plain)


def test_drop_tests_alone_keep_an_estimate_alive() -> None:
    """No meters: dated tests and stated use still give litres and days."""
    line = hydrogen_line(flow_meter=False, litres_a_day=40.0, outlet_probe=False, inlet_probe=False)
    test = DropTest(
        at_ms=MONDAY_MS + 3 * DAY_MS, event_id="t", point=Point.BLENDED, alkalinity_meq_l=6 * DH
    )
    last = run(line, no_draws(), FITTED, REPORT, test, days=6)[-1]

    assert last.days_left is not None
    assert last.rests_on.conductivity == 0.0
    assert last.rests_on.drop_tests > 0.0


def test_a_stuck_meter_in_opening_hours_does_not_stop_the_bed_from_being_used() -> None:
    """After two usual weeks the pulses cease for five days: the range reaches on as before."""
    days = 19
    draws = hourly(days)
    cut = int(np.searchsorted(draws.end_ms, MONDAY_MS + 14 * DAY_MS))
    silent = run(hydrogen_line(), draws.cut(0, cut), FITTED, REPORT, days=days)[-1]
    before = run(hydrogen_line(), draws.cut(0, cut), FITTED, REPORT, days=14)[-1]
    flowing = run(hydrogen_line(), draws, FITTED, REPORT, days=days)[-1]

    assert left(silent)[0] < left(before)[0] - 0.5 * (left(before)[0] - left(flowing)[0])
    assert left(silent)[1] < left(before)[1]


def test_a_dry_cell_is_no_other_water() -> None:
    """Half a day of readings of 2 uS/cm moves nothing and names nothing."""
    draws = hourly(8)
    dry = draws.inlet_ec25_us_cm.copy()
    dry[40:46] = 2.0
    spoilt = msgspec.structs.replace(draws, inlet_ec25_us_cm=dry)
    plain = run(hydrogen_line(), draws, FITTED, REPORT, days=8)[-1]
    found = run(hydrogen_line(), spoilt, FITTED, REPORT, days=8)[-1]

    assert found.change == ""
    assert left(found)[1] == pytest.approx(left(plain)[1], rel=0.1)


def test_another_source_is_named_within_hours_with_its_reason() -> None:
    """Inlet and outlet step up by a fifth together: another raw water, not exhaustion."""
    draws = hourly(10)
    later = np.arange(len(draws)) >= 62
    up = np.where(later, 1.2, 1.0)
    stepped = msgspec.structs.replace(
        draws,
        inlet_ec25_us_cm=draws.inlet_ec25_us_cm * up,
        outlet_ec25_us_cm=draws.outlet_ec25_us_cm * up,
    )
    found = run(hydrogen_line(), stepped, FITTED, REPORT, days=10)
    first = next(e for e in found if e.change)

    assert first.change == "source"
    assert first.change_reason == "inlet-and-outlet-stepped-together"
    assert first.at_ms - int(draws.end_ms[62]) <= 24 * HOUR_MS
    assert found[-1].end_probability < 0.5


def test_the_turn_of_a_bypass_is_not_called_another_source() -> None:
    """The outlet alone steps: inlet water is what it was."""
    draws = hourly(10)
    up = np.where(np.arange(len(draws)) >= 62, 1.12, 1.0)
    stepped = msgspec.structs.replace(draws, outlet_ec25_us_cm=draws.outlet_ec25_us_cm * up)
    found = run(hydrogen_line(), stepped, FITTED, REPORT, days=10)
    first = next(e for e in found if e.change)

    assert first.change == "bypass"


def test_a_drop_test_moves_the_figure_at_once() -> None:
    """The estimate that knows of a test is of the minute of the test, not of the next full hour."""
    at = MONDAY_MS + 2 * DAY_MS + 11 * HOUR_MS + 7 * 60_000
    test = DropTest(at_ms=at, event_id="t", point=Point.RAW, hardness_mmol_l=17 * DH)
    found = run(hydrogen_line(), hourly(3), FITTED, REPORT, test, days=3)
    place = next(i for i, e in enumerate(found) if e.at_ms == at)
    before, after = found[place - 1], found[place]

    assert before.raw_mmol_l is not None
    assert after.raw_mmol_l is not None
    assert after.raw_mmol_l.p50 > 1.05 * before.raw_mmol_l.p50
    assert left(after)[1] < left(before)[1]


def test_contradicting_drop_tests_leave_a_finite_figure() -> None:
    """Raw water of 5 and of 30 dH within a minute: no crash, no NaN."""
    tests = [
        DropTest(
            at_ms=MONDAY_MS + 2 * DAY_MS + 1000 * k,
            event_id=f"t{k}",
            point=Point.RAW,
            hardness_mmol_l=dh * DH,
        )
        for k, dh in enumerate((5, 30))
    ]
    last = run(hydrogen_line(), hourly(6), FITTED, REPORT, *tests, days=6)[-1]

    assert all(np.isfinite(left(last)))


def test_after_a_cross_zero_the_outlets_level_tells_the_bypass() -> None:
    """With the probes' gain known, a higher outlet means that more goes round the bed."""
    zero = CrossZero(
        at_ms=MONDAY_MS + 1000,
        event_id="x",
        outlet_us_cm=560.0,
        outlet_temp_c=25.0,
        inlet_us_cm=560.0,
        inlet_temp_c=25.0,
    )

    def moved_by(*events: AnyEvent) -> float:
        low, high = (
            run(hydrogen_line(), hourly(4, outlet=ec), FITTED, REPORT, *events, days=4)[-1].bypass
            for ec in (325.0, 355.0)
        )
        assert low is not None
        assert high is not None
        return high.p50 - low.p50

    assert moved_by(zero) > 0.02


def test_what_would_sharpen_is_told_in_days_and_fits_the_medium() -> None:
    """Where nobody has told the raw water, sharpeners come best first, each worth less than the
    whole range of days."""
    found = run(hydrogen_line(), hourly(8), FITTED, days=8)[-1]

    assert found.days_left is not None
    assert found.sharpeners
    days = [s.days for s in found.sharpeners]
    assert days == sorted(days, reverse=True)
    assert 0.0 < days[0] < found.days_left.p95 - found.days_left.p05


def test_weeks_without_data_widen_the_range_and_stop_nothing() -> None:
    """Four weeks of silence: estimates go on, wider than before."""
    draws = hourly(8)
    before = run(hydrogen_line(), draws, FITTED, REPORT, days=8)[-1]
    after = run(hydrogen_line(), draws, FITTED, REPORT, days=36)[-1]

    assert after.at_ms > before.at_ms + 27 * DAY_MS
    assert left(after)[2] - left(after)[0] > left(before)[2] - left(before)[0]
