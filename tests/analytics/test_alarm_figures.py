"""The alarm system measured: counts over hand-made journals, and over simulated cartridges."""

from __future__ import annotations

import pytest

from analytics.alarm_figures import figures, together
from analytics.samples import DAY_MS, MINUTE_MS, AlarmChange
from tests.alarm_year import watched

T0 = 1_700_000_000_000


def change(at_ms: int, alarm: str, what: str, state: str, priority: str = "low") -> AlarmChange:
    return AlarmChange(at_ms=T0 + at_ms, alarm=alarm, change=what, priority=priority, state=state)


def raised(at_ms: int, alarm: str = "leak") -> AlarmChange:
    return change(at_ms, alarm, "raised", "unacknowledged")


def cleared(at_ms: int, alarm: str = "leak") -> AlarmChange:
    return change(at_ms, alarm, "cleared", "normal")


def test_three_raisings_in_a_minute_are_chattering() -> None:
    """Two are not, and three over a longer time are not."""
    fast = [c for n in range(3) for c in (raised(n * 20_000), cleared(n * 20_000 + 9))]
    slow = [c for n in range(3) for c in (raised(n * 40_000), cleared(n * 40_000 + 9))]

    assert figures(fast, T0, T0 + DAY_MS).chattering == 1
    assert figures(fast[:4], T0, T0 + DAY_MS).chattering == 0
    assert figures(slow, T0, T0 + DAY_MS).chattering == 0
    assert figures(slow, T0, T0 + DAY_MS).fleeting == 3


def test_flood_is_the_most_in_ten_minutes() -> None:
    """Eleven in ten minutes are a flood, whatever their names."""
    many = [raised(n * MINUTE_MS, f"a{n}") for n in range(25)]

    found = figures(many, T0, T0 + DAY_MS)
    assert (found.most_in_ten_minutes, found.most_a_day, found.alarms) == (10, 25, 25)


def test_stale_alarms_stand_for_more_than_a_day() -> None:
    """Counted at one time, also those that still stand at the end."""
    journal = [raised(0, "a"), raised(MINUTE_MS, "b"), cleared(DAY_MS // 2, "b")]

    assert figures(journal, T0, T0 + 3 * DAY_MS).most_stale == 1
    assert figures(journal, T0, T0 + DAY_MS // 2).most_stale == 0


def test_suppressed_and_shelved_alarms_ask_for_nobody() -> None:
    """Only what is annunciated counts."""
    journal = [
        change(0, "a", "suppressed", "suppressed-by-design"),
        change(1, "a", "unsuppressed", "unacknowledged", "high"),
        change(2, "a", "shelved", "shelved", "high"),
        change(3, "a", "unshelved", "normal", "high"),
    ]
    found = figures(journal, T0, T0 + DAY_MS)

    assert (found.alarms, found.by_priority) == (1, {"high": 1})


@pytest.mark.timeout(300)
def test_simulated_cartridges_stay_within_what_the_standard_asks_for() -> None:
    """Few alarms a day, none chattering or fleeting, no flood, few stale, high ones rare."""
    found = together(watched(number).figures for number in (1, 4, 7))

    assert found.days > 100
    assert 3 <= found.alarms <= 30
    assert found.a_day < 1.0
    assert found.most_a_day <= 6
    assert found.most_in_ten_minutes <= 2
    assert found.chattering == 0
    assert found.fleeting == 0
    assert found.most_stale < 5
    assert found.by_priority.get("high", 0) <= 0.2 * found.alarms
    assert {"capacity-low", "change-now", "breakthrough"} <= found.by_alarm.keys()
