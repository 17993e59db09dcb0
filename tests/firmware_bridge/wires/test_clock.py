"""Clocks and waits."""

from __future__ import annotations

import random

import pytest

from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import SystemClock, VirtualClock

START = 1_750_000_000_000


class Unset(SystemClock):
    """A box without a battery, before the network has set its clock."""

    def now_ms(self) -> int:
        return 12_345


def test_the_system_clock_is_believed_only_after_it_was_set() -> None:
    """A time from before this program existed is not believed; today's is."""
    assert SystemClock().is_sane()
    assert not Unset().is_sane()


def test_a_standing_clock_moves_only_when_it_is_moved() -> None:
    """Speed 0 with `advance` is time under full control."""
    clock = VirtualClock(START, speed=0.0)
    clock.advance(1500)

    assert (clock.now_ms(), clock.monotonic_ms()) == (START + 1500, 1500)
    assert clock.is_sane()


def test_a_clock_cannot_be_turned_back() -> None:
    """A negative step is refused."""
    with pytest.raises(ValueError, match="turned back"):
        VirtualClock(START).advance(-1)


async def test_a_fast_clock_passes_hours_in_a_moment() -> None:
    """At a hundred thousand times real speed an hour's sleep is over and the hour has passed."""
    clock = VirtualClock(START, speed=100_000.0)

    await clock.sleep(3600.0)

    assert clock.now_ms() >= START + 3_600_000


def test_changing_speed_does_not_jump() -> None:
    """Time goes on from where it is."""
    clock = VirtualClock(START, speed=1000.0)
    before = clock.now_ms()
    clock.speed = 0.0

    after = clock.now_ms()
    assert clock.now_ms() == after >= before
    assert clock.speed == 0.0
    assert SystemClock().speed == 1.0


def test_waits_double_up_to_a_limit_and_begin_again() -> None:
    """Each wait is between half and all of a doubling time; success makes the next one short."""
    backoff = Backoff(1.0, 10.0, chance=random.Random(1))
    waits = [backoff.failed() for _ in range(8)]
    full = [1.0, 2.0, 4.0, 8.0, 10.0, 10.0, 10.0, 10.0]

    assert all(top / 2 <= wait <= top for wait, top in zip(waits, full, strict=True))
    assert backoff.worked() == 8
    assert backoff.failed() <= 1.0
    assert backoff.first
