"""When a place is open: by its hours, past midnight too, and not in an announced closure."""

from __future__ import annotations

import pytest

from analytics.opening import is_open, open_minutes, opens_on
from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from analytics.setup import LocalTime
from tests.makers import MONDAY_MS

BAR = (*((0, 0),) * 4, (1080, 1560), (480, 720), (0, 0))
"""Friday 18:00 to 02:00 of Saturday, Saturday 8 to 12, else shut."""
FRIDAY_MS, SATURDAY_MS = MONDAY_MS + 4 * DAY_MS, MONDAY_MS + 5 * DAY_MS


@pytest.mark.parametrize(
    ("at_ms", "expected"),
    [
        (FRIDAY_MS + 18 * HOUR_MS - 1, False),
        (FRIDAY_MS + 18 * HOUR_MS, True),
        (SATURDAY_MS + HOUR_MS, True),
        (SATURDAY_MS + 2 * HOUR_MS - MINUTE_MS, True),
        (SATURDAY_MS + 2 * HOUR_MS, False),
        (SATURDAY_MS + 9 * HOUR_MS, True),
        (SATURDAY_MS + 12 * HOUR_MS, False),
        (SATURDAY_MS + DAY_MS + HOUR_MS, False),
        (MONDAY_MS + 12 * HOUR_MS, False),
    ],
)
def test_hours_past_midnight_belong_to_the_evening_before(at_ms: int, expected: bool) -> None:
    """A bar that opens on Friday evening is open in the first hours of Saturday."""
    assert is_open(BAR, LocalTime(), at_ms) is expected


def test_hours_are_the_sites_own() -> None:
    """Two hours east of UTC, 16:30 UTC is half past six in the evening."""
    east = LocalTime(offset_s=(7200,))

    assert is_open(BAR, east, FRIDAY_MS + 16 * HOUR_MS + 30 * MINUTE_MS)
    assert not is_open(BAR, east, FRIDAY_MS + 15 * HOUR_MS + 30 * MINUTE_MS)


def test_an_announced_closure_shuts_a_day_whatever_the_hours_say() -> None:
    """Shut on Friday by announcement: that day does not open."""
    shut = ((FRIDAY_MS, SATURDAY_MS),)

    assert not opens_on(BAR, shut, 4, FRIDAY_MS + DAY_MS // 2)
    assert opens_on(BAR, (), 4, FRIDAY_MS + DAY_MS // 2)
    assert not opens_on(BAR, (), 6, SATURDAY_MS + 36 * HOUR_MS)


def test_open_minutes_of_a_week_add_up_once() -> None:
    """Minutes past midnight are counted on the day they fall on, never twice."""
    whole = sum(open_minutes(BAR, weekday, 0, 1440) for weekday in range(7))

    assert whole == (1560 - 1080) + (720 - 480)
    assert open_minutes(BAR, 5, 0, 1440) == 120 + 240


def test_a_day_open_round_the_clock_after_a_late_night_is_not_counted_twice() -> None:
    """Friday to 2 in the morning, Saturday from midnight to midnight: 24 hours of Saturday."""
    late = (*((0, 0),) * 4, (1080, 1560), (0, 1440), (0, 0))

    assert open_minutes(late, 5, 0, 1440) == 1440
