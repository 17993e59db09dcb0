"""Each rule has a signature that raises it and a neighbour that must not."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analytics.alarm import Flow, Host, Rule, Situation, rules
from analytics.diagnosis.faults import finding
from analytics.health import Health, Meters
from analytics.machine_water import MachineWater, RawTest, machine_water
from analytics.quarter import Quarter
from analytics.samples import DAY_MS, HOUR_MS, Estimate, Share, Spread
from analytics.setup import Limits, LineSetup
from analytics.survey.window import COFFEE_2018

DH = 0.178326
NOW = 1_717_200_000_000
LINE = LineSetup(
    line_id="bar",
    medium="hydrogen",
    inlet_probe=True,
    bypass=0.3,
    rated_flow_l_min=2.0,
    limits=Limits(outlet_high_mmol_l=8 * DH, outlet_low_mmol_l=2 * DH, profile="coffee-2018"),
)
BY_NAME = {rule.name: rule for rule in rules()}


def spread(p50: float, part: float = 0.1) -> Spread:
    return Spread(p50=p50, p05=p50 * (1 - part), p95=p50 * (1 + part))


GOOD = Estimate(
    at_ms=NOW,
    known_at_ms=NOW,
    cartridge_id="HS-1",
    remaining_l=spread(1500.0),
    used_share=Spread(p50=0.4, p05=0.35, p95=0.45),
    used_rows=tuple(1.0 if k < 12 else 0.0 for k in range(33)),
    days_left=spread(40.0),
    end_ms=None,
    ends_by="capacity",
    time_limit_ms=NOW + 200 * DAY_MS,
    carbon_left_l=4000.0,
    outlet_mmol_l=spread(5 * DH),
    treated_mmol_l=spread(1 * DH),
    raw_mmol_l=spread(14 * DH),
    target="carbonate",
    bypass=Spread(p50=0.31, p05=0.26, p95=0.36),
    litres_passed=1000.0,
    rests_on=Share(litres=0.5, conductivity=0.3, drop_tests=0.2),
    trusted=True,
    reason="",
    end_probability=0.0,
)
QUARTER = Quarter(rows=900, counted=900, pulses=2000, fastest=1900.0, coldest_c=16.0)
WATER = MachineWater(hardness_mmol_l=1.0, alkalinity_meq_l=1.1, calcium_mmol_l=0.8, ph=7.2, si=0.3)
WELL = Health(word="good")
USUAL = Situation(
    at_ms=NOW,
    line=LINE,
    estimate=GOOD,
    quarter=QUARTER,
    flow=Flow(last_ms=NOW - HOUR_MS),
    meters=Meters(outlet=WELL, inlet=WELL, flow=WELL),
    bypass_set=0.3,
    water=WATER,
)
BOX = Host(at_ms=NOW, disk_free_mb=9000.0, sinks_late_s={"mqtt": 20.0})


def now(**changes: object) -> Situation:
    return msgspec.structs.replace(USUAL, **changes)


def figure(**changes: object) -> Situation:
    return now(estimate=msgspec.structs.replace(GOOD, **changes))


def quarter(**changes: object) -> Situation:
    return now(quarter=msgspec.structs.replace(QUARTER, **changes))


def flow(**changes: object) -> Situation:
    return now(flow=msgspec.structs.replace(USUAL.flow, **changes))


def water(**changes: object) -> Situation:
    return now(water=msgspec.structs.replace(WATER, **changes))


def meter(name: str, word: str, why: str = "") -> Situation:
    return now(meters=msgspec.structs.replace(USUAL.meters, **{name: Health(word=word, why=why)}))


def box(**changes: object) -> Situation:
    return now(host=msgspec.structs.replace(BOX, **changes))


STEP = {"change": "source", "change_ms": NOW - DAY_MS, "change_probability": 0.95}
RAISES: dict[str, tuple[Situation, Situation]] = {
    "outlet-hardness-high": (
        figure(outlet_mmol_l=spread(8.1 * DH)),
        figure(outlet_mmol_l=spread(7.9 * DH)),
    ),
    "breakthrough": (figure(end_probability=0.93), figure(end_probability=0.8)),
    "capacity-low": (figure(days_left=spread(13.0)), figure(days_left=spread(15.0))),
    "change-now": (figure(days_left=spread(2.5)), figure(days_left=spread(4.0))),
    "time-limit-near": (
        figure(time_limit_ms=NOW + 13 * DAY_MS),
        figure(time_limit_ms=NOW + 15 * DAY_MS),
    ),
    "time-limit": (figure(time_limit_ms=NOW - 1), figure(time_limit_ms=NOW + HOUR_MS)),
    "carbon-spent": (figure(carbon_left_l=-1.0), figure(carbon_left_l=1.0)),
    "raw-water-changed": (figure(**STEP), figure(**(STEP | {"change": "exhaustion"}))),
    "bypass-off": (
        figure(bypass=Spread(p50=0.5, p05=0.42, p95=0.6)),
        figure(bypass=Spread(p50=0.5, p05=0.38, p95=0.6)),
    ),
    "water-hard": (water(hardness_mmol_l=1.9), water(hardness_mmol_l=1.7)),
    "water-thin": (figure(outlet_mmol_l=spread(1.9 * DH)), figure(outlet_mmol_l=spread(2.1 * DH))),
    "water-scaling": (water(si=1.05), water(si=0.9)),
    "water-corrosive": (water(alkalinity_meq_l=0.7), water(alkalinity_meq_l=0.9)),
    "leak": (flow(shut_l=2.5), flow(shut_l=1.5, shut_quarters=3)),
    "no-flow": (flow(still_open_h=4.25), flow(still_open_h=4.25, usual_gap_h=4.0)),
    "water-stood": (flow(last_ms=NOW - 73 * HOUR_MS), flow(last_ms=NOW - 71 * HOUR_MS)),
    "cold-water-warm": (quarter(coldest_c=25.5), quarter(coldest_c=24.9)),
    "flow-above-rating": (quarter(fastest=2200.0), quarter(fastest=2050.0)),
    "outlet-probe-failure": (
        meter("outlet", "failure", "dry"),
        meter("outlet", "function-check", "calibration"),
    ),
    "outlet-probe-care": (
        meter("outlet", "maintenance-required", "clean"),
        meter("outlet", "failure", "dry"),
    ),
    "inlet-probe-failure": (meter("inlet", "failure"), meter("outlet", "failure")),
    "inlet-probe-care": (meter("inlet", "out-of-specification"), meter("inlet", "good")),
    "flow-meter-failure": (meter("flow", "failure"), meter("flow", "maintenance-required")),
    "flow-meter-care": (meter("flow", "maintenance-required"), meter("flow", "function-check")),
    "fault-found": (
        now(findings=(finding("pulses-lost", NOW - DAY_MS, 0.9, "flow"),)),
        now(findings=(finding("leak", NOW - DAY_MS, 0.9), finding("film", NOW, 0.5, "outlet"))),
    ),
    "data-gap": (now(silent_since_ms=NOW - HOUR_MS), now()),
    "clock-unsure": (box(clock_sane=False), box()),
    "disk-low": (box(disk_free_mb=400.0), box(disk_free_mb=600.0)),
    "record-damaged": (box(rescued_ms=NOW - HOUR_MS), box(rescued_ms=NOW - 8 * DAY_MS)),
    "sink-behind": (
        box(sinks_late_s={"mqtt": 30.0, "line-protocol": 22_000.0}),
        box(sinks_late_s={"mqtt": 21_000.0}),
    ),
}


def excess(rule: Rule, situation: Situation) -> float:
    found = rule.excess(situation)
    assert found is not None
    return found


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.name)
def test_signature_raises_and_neighbour_does_not(rule: Rule) -> None:
    """What the rule is for passes its limit; what looks like it does not."""
    raises, neighbour = RAISES[rule.name]

    assert excess(rule, raises) > 0.0
    assert excess(rule, neighbour) <= 0.0


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.name)
def test_usual_state_raises_nothing(rule: Rule) -> None:
    """On an ordinary day no rule speaks."""
    found = rule.excess(now(host=BOX))

    assert found is None or found <= 0.0


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.name)
def test_rule_that_knows_nothing_says_nothing(rule: Rule) -> None:
    """Without estimate, rows and box a rule cannot tell, or stays silent."""
    blank = Situation(at_ms=NOW, line=LineSetup(line_id="bar", medium="hydrogen"))
    found = rule.excess(blank)

    assert found is None or found <= 0.0
    assert all(np.isfinite(value) for value in rule.numbers(blank).values())
    assert isinstance(rule.word(blank), str)


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.name)
def test_numbers_told_are_finite_and_named_with_their_unit(rule: Rule) -> None:
    """What goes to the journal can be read by a machine."""
    for value in rule.numbers(RAISES[rule.name][0]).values():
        assert np.isfinite(value)


def test_a_drip_is_a_leak_too() -> None:
    """Little water that never stops for two hours with the place shut."""
    leak = BY_NAME["leak"]

    assert excess(leak, flow(shut_l=0.2, shut_quarters=8)) > 0.0
    assert excess(leak, flow(shut_l=0.2, shut_quarters=7)) <= 0.0


def test_few_litres_and_a_wide_range_both_make_capacity_low() -> None:
    """The warning comes by share, by litres, by days, and earlier where the range is wide."""
    low = BY_NAME["capacity-low"]
    wide = tuple(1.0 if k < 12 else 0.4 for k in range(33))
    litres = Limits(litres_low_l=200.0)

    assert excess(low, figure(used_share=Spread(p50=0.9, p05=0.8, p95=0.95))) > 0.0
    assert excess(low, figure(used_rows=wide)) > 0.0
    few = figure(remaining_l=spread(150.0))
    assert excess(low, few) <= 0.0
    line = msgspec.structs.replace(LINE, limits=litres)
    assert excess(low, msgspec.structs.replace(few, line=line)) > 0.0


def test_water_that_stood_is_told_until_it_was_flushed() -> None:
    """Flow alone does not end it: enough must have run."""
    stood = BY_NAME["water-stood"]

    assert excess(stood, flow(last_ms=NOW - 60_000, unflushed=True)) > 0.0
    assert excess(stood, flow(last_ms=NOW - 60_000, unflushed=False)) <= 0.0


def test_full_store_is_worse_than_a_full_disk() -> None:
    """A file that takes no more raises the alarm however much room the disk has."""
    disk = BY_NAME["disk-low"]
    full = box(store_full=True)

    assert excess(disk, full) > 0.0
    assert disk.word(full) == "full"
    assert disk.word(box(disk_free_mb=10.0)) == "low"


# --- what the machine gets ------------------------------------------------------------------------

HARD = RawTest(hardness_mmol_l=18 * DH, alkalinity_meq_l=16 * 2 * DH)


def gets(medium: str, target: str, raw: float, outlet: float) -> MachineWater:
    estimate = msgspec.structs.replace(
        GOOD, target=target, raw_mmol_l=spread(raw), outlet_mmol_l=spread(outlet)
    )
    found = machine_water(medium, HARD, estimate)
    assert found is not None
    return found


def test_hydrogen_takes_hardness_and_alkalinity_together() -> None:
    """Two equivalents of alkalinity go with each mole of carbonate hardness; scale goes with it."""
    fresh, past = (
        gets("hydrogen", "carbonate", 16 * DH, 4 * DH),
        gets("hydrogen", "carbonate", 16 * DH, 15 * DH),
    )

    assert fresh.hardness_mmol_l == pytest.approx(6 * DH, abs=0.02)
    assert fresh.alkalinity_meq_l == pytest.approx(4 * 2 * DH, abs=0.02)
    assert fresh.si < COFFEE_2018.si_stop < past.si


def test_sodium_leaves_alkalinity_and_magnesium_leaves_hardness() -> None:
    """What each medium takes, and nothing else."""
    sodium = gets("sodium", "total", 18 * DH, 1 * DH)
    magnesium = gets("magnesium", "calcium", 0.8 * 18 * DH, 2 * DH)

    assert sodium.hardness_mmol_l == pytest.approx(1 * DH, abs=0.02)
    assert sodium.alkalinity_meq_l == pytest.approx(HARD.alkalinity_meq_l, abs=0.02)
    assert magnesium.hardness_mmol_l == pytest.approx(HARD.hardness_mmol_l, abs=0.02)
    assert magnesium.calcium_mmol_l == pytest.approx(2 * DH, abs=0.02)


def test_nothing_is_made_up_without_a_test_of_raw_water() -> None:
    """No full test, no estimate of raw water, no profile: no word about scale or metal."""
    assert machine_water("hydrogen", None, GOOD) is None
    assert machine_water("hydrogen", HARD, None) is None
    bare = msgspec.structs.replace(LINE, limits=Limits())
    for name in ("water-hard", "water-thin", "water-scaling", "water-corrosive"):
        assert BY_NAME[name].excess(now(line=bare)) is None
