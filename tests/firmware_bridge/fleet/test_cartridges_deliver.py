"""What each cartridge delivered, as the records keep it for the fleet to learn from."""

from __future__ import annotations

import pytest

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import cartridges
from firmware_bridge.store.out_row import OutRow
from tests.firmware_bridge.fleet.sites_speak import PREFIX, all_of, card, said
from tests.firmware_bridge.forward.outbox import START_MS

DAY_MS = 86_400_000
RATED = 640.0


@pytest.fixture
def keeper(records: Records) -> Keeper:
    """A keeper that knows the line's size and when its cartridge was fitted."""
    made = Keeper(records, PREFIX, adopt_newcomers=True)
    made.take(card(), START_MS)
    fitted = OutRow(
        seq=1, at_ms=START_MS, kind="event", line_id="bar", cartridge_id="HS-1",
        numbers={}, words={"event": "cartridge-fitted", "event_id": "a"},
    )  # fmt: skip
    made.take(said([fitted]), START_MS)
    return made


def estimate(number: int, ended: float, used: float, *share: float) -> OutRow:
    """An estimate of that day: chance of an end, share used, range of the capacity's share."""
    numbers = {"end_probability": ended, "used_share_p50": used, "litres_passed": 10.0 * number}
    for name, value in zip(("p05", "p50", "p95"), share, strict=True):
        numbers[f"capacity_share_{name}"] = value
    return OutRow(
        seq=number, at_ms=START_MS + number * DAY_MS, kind="estimate", line_id="bar",
        numbers=numbers,
    )  # fmt: skip


def delivered(records: Records) -> tuple[bool, float, float, float]:
    """What the one cartridge has: end reached, and the range of what it delivered."""
    (one,) = all_of(records, cartridges)
    low, middle, high = (float(str(one[f"delivered_mmol_{q}"])) for q in ("p05", "p50", "p95"))
    return bool(one["reached_end"]), low, middle, high


def test_before_its_end_a_cartridge_has_delivered_what_is_used_of_it(
    records: Records, keeper: Keeper
) -> None:
    """Half of what it holds, if it holds 90 % of its rating: 45 %, whatever its range."""
    keeper.take(said([estimate(2, 0.01, 0.5, 0.7, 0.9, 1.1)]), START_MS)

    reached, low, middle, high = delivered(records)

    (one,) = all_of(records, cartridges)
    assert one["holds_mmol_p50"] == pytest.approx(0.9 * RATED)
    assert not reached
    assert middle == pytest.approx(0.45 * RATED)
    assert 0.4 * RATED < low < middle < high < 0.5 * RATED


def test_at_its_end_it_has_delivered_what_it_held(records: Records, keeper: Keeper) -> None:
    """With the range that the site itself gives."""
    keeper.take(said([estimate(2, 0.9, 1.02, 0.75, 0.8, 0.85)]), START_MS)

    assert delivered(records) == (
        True, pytest.approx(0.75 * RATED), pytest.approx(0.8 * RATED), pytest.approx(0.85 * RATED),
    )  # fmt: skip


def test_after_its_end_it_is_known_better_and_never_forgotten(
    records: Records, keeper: Keeper
) -> None:
    """A front that has passed tells more; an estimate that takes the end back tells nothing."""
    keeper.take(said([estimate(2, 0.6, 1.0, 0.6, 0.8, 1.0)]), START_MS)
    keeper.take(said([estimate(3, 0.99, 1.1, 0.76, 0.78, 0.8)]), START_MS)
    keeper.take(said([estimate(4, 0.3, 0.9, 0.7, 1.0, 1.3)]), START_MS)

    reached, low, middle, high = delivered(records)

    assert reached
    assert (low, middle, high) == pytest.approx((0.76 * RATED, 0.78 * RATED, 0.8 * RATED))


def test_the_next_cartridge_leaves_it_as_it_was(records: Records, keeper: Keeper) -> None:
    """Taken out early: a lower bound, and the new one begins with nothing delivered."""
    keeper.take(said([estimate(2, 0.01, 0.5, 0.9, 1.0, 1.1)]), START_MS)
    fitted = OutRow(
        seq=3, at_ms=START_MS + 3 * DAY_MS, kind="event", line_id="bar", cartridge_id="HS-2",
        numbers={}, words={"event": "cartridge-fitted", "event_id": "b"},
    )  # fmt: skip
    keeper.take(said([fitted, estimate(4, 0.001, 0.02, 0.8, 1.0, 1.2)]), START_MS)

    first, second = sorted(all_of(records, cartridges), key=lambda one: str(one["cartridge"]))

    assert first["delivered_mmol_p50"] == pytest.approx(0.5 * RATED)
    assert first["removed_ms"] == second["fitted_ms"]
    assert second["delivered_mmol_p50"] == pytest.approx(0.02 * RATED)
