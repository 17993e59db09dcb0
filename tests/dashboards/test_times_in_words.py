"""Ages, clock times and dates in the site's own time."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from analytics.setup import LocalTime
from dashboards.phrases.language import languages
from dashboards.phrases.times import When, local_day, local_midnight
from tests.dashboards.specimens import NOW_MS, now

BERLIN = LocalTime(from_ms=(0, 1_774_746_000_000, 1_792_890_000_000), offset_s=(3600, 7200, 3600))
"""Summer time from 2026-03-29 01:00 UTC to 2026-10-25 01:00 UTC."""


@pytest.mark.parametrize(
    ("gone_ms", "text"),
    [
        (0, "now"),
        (12_400, "12 s ago"),
        (119_999, "119 s ago"),
        (2 * MINUTE_MS, "2 min ago"),
        (119 * MINUTE_MS, "119 min ago"),
        (3 * HOUR_MS, "at 11:32"),
        (DAY_MS, "Monday 14:32"),
        (8 * DAY_MS, "Mon 20 April"),
        (-5000, "now"),
    ],
)
def test_age_grows_from_seconds_to_days(gone_ms: int, text: str) -> None:
    """Seconds under two minutes, minutes under two hours, then the clock, then the day."""
    assert now().age(NOW_MS - gone_ms).replace("\u202f", " ") == text


@pytest.mark.parametrize(
    ("first", "last", "text"),
    [
        (date(2026, 5, 8), date(2026, 5, 22), "8–22 May"),
        (date(2026, 4, 28), date(2026, 5, 3), "28 April to 3 May"),
        (date(2026, 5, 14), date(2026, 5, 14), "14 May"),
        (date(2026, 12, 20), date(2027, 1, 4), "20 December 2026 to 4 January 2027"),
    ],
)
def test_range_of_days_names_the_month_once(first: date, last: date, text: str) -> None:
    """Days of one month share its name; years are named where they change."""
    assert now().days_range(first, last).replace("\u202f", " ") == text


@pytest.mark.parametrize(
    ("patterns", "day", "span"),
    [
        ({"day": "{n}.", "weekday_date": "{weekday}, {date}"}, "Thu, 14. May", "1.–14. May"),
        ({"first_of_month": "1er"}, "Thu 14 May", "1er–14 May"),
    ],
)
def test_days_are_written_as_the_language_has_it(
    patterns: dict[str, str], day: str, span: str
) -> None:
    """A point after the day, a comma after the weekday, a first that is no "1"."""
    calendar = msgspec.structs.replace(languages()["en"].calendar, **patterns)
    when = When(calendar, BERLIN, NOW_MS)
    first, last = date(2026, 5, 1), date(2026, 5, 14)

    assert when.medium(last) == day
    assert when.days_range(first, last).replace("\u202f", " ") == span


def test_day_turns_at_local_midnight_across_summer_time() -> None:
    """The local day starts at local midnight before, at and after the clock changes."""
    for day in (date(2026, 3, 28), date(2026, 3, 29), date(2026, 3, 30), date(2026, 10, 25)):
        start = local_midnight(BERLIN, day)

        assert local_day(BERLIN, start) == day
        assert local_day(BERLIN, start - 1) < day
    assert (
        local_midnight(BERLIN, date(2026, 3, 30)) - local_midnight(BERLIN, date(2026, 3, 29))
        == 23 * HOUR_MS
    )


def test_clock_is_the_sites_own() -> None:
    """A time of day is given in the site's zone, not in UTC."""
    when = When(languages()["en"].calendar, BERLIN, NOW_MS)

    assert when.clock(NOW_MS) == "16:32"
