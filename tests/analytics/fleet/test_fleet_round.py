"""A day's round: distances, order, what fits, what goes into the van."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.fleet.bring import Item, Thing, needed, packed
from analytics.fleet.distance import Place, Travel, great_circle_km, middle_of
from analytics.fleet.due import Due, Need
from analytics.fleet.round import Day, Round, Stop, order_given, plan_round
from analytics.samples import MINUTE_MS

DEPOT = Place(latitude=-30.0, longitude=-20.0)
PLACES = st.builds(Place, latitude=st.floats(-89.0, 89.0), longitude=st.floats(-180.0, 180.0))


def near(north_km: float, east_km: float) -> Place:
    """A place so far from the depot."""
    degree = 111.195
    return Place(
        latitude=DEPOT.latitude + north_km / degree,
        longitude=DEPOT.longitude + east_km / degree / math.cos(math.radians(DEPOT.latitude)),
    )


def scattered(count: int, seed: int) -> list[Stop]:
    """Stops within 20 km, all equally grave."""
    off = np.random.default_rng(seed).uniform(-20.0, 20.0, (count, 2))
    return [Stop(key=i, place=near(*row), risk=0.5) for i, row in enumerate(off.tolist())]


def minutes(found: Round) -> float:
    """How long the van is away."""
    return (found.back_ms - DAY.start_ms) / MINUTE_MS


DAY = Day(start=DEPOT, start_ms=1_777_600_000_000, minutes=480.0)


def test_a_degree_of_latitude_is_111_km() -> None:
    """Mean radius 6371.0088 km: 2 pi R / 360 = 111.1951 km."""
    here, there = Place(latitude=0.0, longitude=0.0), Place(latitude=1.0, longitude=0.0)

    assert great_circle_km(here, there) == pytest.approx(111.1951, abs=1e-3)


def test_a_quarter_of_the_equator() -> None:
    """The date line is no wall, and a quarter of the way round is a quarter of 2 pi R."""
    here, there = Place(latitude=0.0, longitude=135.0), Place(latitude=0.0, longitude=-135.0)

    assert great_circle_km(here, there) == pytest.approx(math.pi / 2 * 6371.0088, rel=1e-9)


@given(PLACES, PLACES)
def test_the_law_of_cosines_says_the_same(here: Place, there: Place) -> None:
    """Another formula for the same sphere, poor only for very short ways."""
    lat1, lat2 = math.radians(here.latitude), math.radians(there.latitude)
    between = math.radians(there.longitude - here.longitude)
    cosine = math.sin(lat1) * math.sin(lat2) + math.cos(lat1) * math.cos(lat2) * math.cos(between)

    expected = 6371.0088 * math.acos(min(max(cosine, -1.0), 1.0))

    assert great_circle_km(here, there) == pytest.approx(expected, abs=0.3)


def test_the_middle_lies_between() -> None:
    """Also across the date line."""
    middle = middle_of(
        [Place(latitude=5.0, longitude=179.0), Place(latitude=5.0, longitude=-179.0)]
    )

    assert abs(middle.longitude) == pytest.approx(180.0)
    assert middle.latitude == pytest.approx(5.0, abs=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_the_order_is_within_a_twentieth_of_the_best(seed: int) -> None:
    """Against every order of six stops, which are a long day."""
    stops = scattered(6, seed)

    found = plan_round(stops, Day(start=DEPOT, start_ms=DAY.start_ms, minutes=900.0))

    best = min(
        order_given(order, DAY).back_ms - DAY.start_ms for order in itertools.permutations(stops)
    )
    assert found.back_ms - DAY.start_ms <= 1.05 * best
    assert sorted(visit.key for visit in found.visits) == list(range(6))


def test_the_gravest_are_taken_first_where_not_all_fit() -> None:
    """Forty stops do not fit into a day; those left out are no graver than those taken."""
    risks = np.random.default_rng(2).permutation(40) / 40.0
    stops = [
        Stop(key=stop.key, place=near(2.0, 2.0), risk=float(risks[stop.key]))
        for stop in scattered(40, 1)
    ]

    found = plan_round(stops, DAY)

    assert minutes(found) <= 480.0
    assert 10 <= len(found.visits) < 40
    taken = min(risks[visit.key] for visit in found.visits)
    assert len(found.visits) + len(found.left_out) == 40
    assert all(risks[key] < taken for key in found.left_out)


@given(st.integers(0, 15), st.integers(0, 1000), st.floats(60.0, 600.0))
def test_a_day_is_never_longer_than_it_may_be(count: int, seed: int, length: float) -> None:
    """Every stop is either visited once or left out, and the van is back in time."""
    day = Day(start=DEPOT, start_ms=DAY.start_ms, minutes=length)

    found = plan_round(scattered(count, seed), day)

    assert minutes(found) <= length + 1e-3
    keys = [visit.key for visit in found.visits] + list(found.left_out)
    assert sorted(keys) == list(range(count))


def test_who_has_run_out_is_not_kept_waiting() -> None:
    """The same two stops; the one that is past its end comes first though it is farther."""
    far, close = near(6.0, 0.0), near(-4.0, 0.0)
    calm = plan_round([Stop(key=1, place=far), Stop(key=2, place=close)], DAY)
    dry = plan_round([Stop(key=1, place=far, ended=1.0), Stop(key=2, place=close)], DAY)

    assert dry.visits[0].key == 1
    assert calm.visits[0].key == 2 or minutes(calm) <= minutes(dry)


def test_arrivals_follow_from_ways_and_service() -> None:
    """32 km/h by roads 1.35 times as long, six minutes to park, 25 at the site."""
    found = order_given([Stop(key=1, place=near(16.0, 0.0))], DAY)

    way = 16.0 * 1.35 / 32.0 * 60.0 + 6.0
    (visit,) = found.visits
    assert (visit.arrive_ms - DAY.start_ms) / MINUTE_MS == pytest.approx(way, abs=0.1)
    assert (visit.leave_ms - visit.arrive_ms) / MINUTE_MS == pytest.approx(25.0, abs=0.01)
    assert minutes(found) == pytest.approx(2 * way + 25.0, abs=0.2)
    assert found.km == pytest.approx(32.0, abs=0.01)


def test_a_site_without_a_place_is_visited_and_marked() -> None:
    """Nobody entered its coordinates; it must not be forgotten for that."""
    found = plan_round([*scattered(3, 4), Stop(key=9)], DAY)

    assert {visit.key: visit.placed for visit in found.visits} == {
        0: True, 1: True, 2: True, 9: False,
    }  # fmt: skip


def test_no_stops_is_no_round() -> None:
    """The van stays at home."""
    found = plan_round([], Day(start=DEPOT, start_ms=5, travel=Travel()))

    assert (found.visits, found.back_ms, found.km) == ((), 5, 0.0)


def line(need: Need, chance: float | None) -> Due:
    """A line with one chance for the round after next."""
    return Due(
        line_no=1, need=need, risk=0.0, by_ms=None, now=None, chances=(0.0, chance),
        low=(0.0, chance), high=(0.0, chance), ends_by="capacity",
    )  # fmt: skip


def test_what_each_need_brings_with_it() -> None:
    """A cartridge where it may end, a kit for a doubt, a box for a silence."""

    def things(need: Need, chance: float | None) -> list[str]:
        return [item.thing.value for item in needed(line(need, chance), "hydrogen", "3")]

    assert things(Need.DUE, 0.4) == ["cartridge"]
    assert things(Need.RIGHT, 0.01) == []
    assert things(Need.SILENT, 0.01) == ["spare-box"]
    assert things(Need.SILENT, 0.2) == ["cartridge", "spare-box"]
    assert things(Need.DOUBT, None) == ["cartridge", "drop-test-kit"]


def test_the_van_carries_one_kit_for_all_and_counts_the_rest() -> None:
    """Two of one size, one of another, three doubts."""
    small = Item(thing=Thing.CARTRIDGE, medium="hydrogen", size="3")
    other = Item(thing=Thing.CARTRIDGE, medium="magnesium", size="5")
    kit, box = Item(thing=Thing.DROP_TEST_KIT), Item(thing=Thing.SPARE_BOX)

    load = packed([kit, small, box, kit, other, small, kit])

    assert load == ((small, 2), (other, 1), (kit, 1), (box, 1))
