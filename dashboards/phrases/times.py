"""Ages, clock times and dates as text, in the site's own time."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import msgspec

from analytics.samples import DAY_MS, MINUTE_MS
from analytics.setup import LocalTime
from dashboards.phrases.numbers import EN_DASH, THIN

RECENT_MS = 120 * MINUTE_MS
EPOCH = date(1970, 1, 1)


def local_day(local: LocalTime, at_ms: float) -> date:
    """The day of an instant on the site's clock."""
    whole = int(at_ms)
    return EPOCH + timedelta(days=(whole + local.offset_ms(whole)) // DAY_MS)


def local_midnight(local: LocalTime, day: date) -> int:
    """The instant at which a day starts on the site's clock."""
    naive = (day - EPOCH).days * DAY_MS
    return naive - local.offset_ms(naive - local.offset_ms(naive))


class Calendar(msgspec.Struct, frozen=True, kw_only=True):
    """How a language names days, and the words that ages need."""

    months: tuple[str, ...]
    months_short: tuple[str, ...]
    weekdays: tuple[str, ...]
    weekdays_short: tuple[str, ...]
    day: str = "{n}"
    """A day of the month: "{n}." in German."""
    first_of_month: str = ""
    """The first, where it is written otherwise: "1er" in French."""
    day_month: str = "{day} {month}"
    day_month_year: str = "{day} {month} {year}"
    weekday_date: str = "{weekday} {date}"
    weekday_clock: str = "{weekday} {clock}"
    now: str = "now"
    seconds_ago: str = "{n} s ago"
    minutes_ago: str = "{n} min ago"
    at_clock: str = "at {clock}"
    range_word: str = "to"


class When:
    """Instants in words, as read at `now_ms` on the site's clock."""

    def __init__(self, calendar: Calendar, local: LocalTime, now_ms: int) -> None:
        self._words = calendar
        self._local = local
        self.now_ms = now_ms
        self.today = self.day(now_ms)

    def day(self, at_ms: float) -> date:
        """The local day of an instant."""
        return local_day(self._local, at_ms)

    def midnight(self, day: date) -> int:
        """The instant at which a local day starts."""
        return local_midnight(self._local, day)

    def clock(self, at_ms: int) -> str:
        """Local time of day, "14:32"."""
        shifted = (at_ms + self._local.offset_ms(at_ms)) / 1000
        return datetime.fromtimestamp(shifted, tz=UTC).strftime("%H:%M")

    def short(self, day: date, *, year: bool | None = None) -> str:
        """Day and month, "14 May", with the year where it is another year than today's."""
        words = self._words
        pattern = words.day_month_year if self._with_year(day, year) else words.day_month
        return pattern.format(
            day=self._number(day), month=words.months[day.month - 1], year=day.year
        )

    def _number(self, day: date) -> str:
        words = self._words
        if day.day == 1 and words.first_of_month:
            return words.first_of_month
        return words.day.format(n=day.day)

    def _dated(self, weekday: str, text: str) -> str:
        return self._words.weekday_date.format(weekday=weekday, date=text)

    def _with_year(self, day: date, year: bool | None) -> bool:
        return day.year != self.today.year if year is None else year

    def long(self, day: date) -> str:
        """Weekday and date, "Thursday 14 May"."""
        return self._dated(self._words.weekdays[day.weekday()], self.short(day))

    def medium(self, day: date) -> str:
        """Short weekday and date, "Thu 14 May"."""
        return self._dated(self.weekday(day), self.short(day))

    def brief(self, day: date) -> str:
        """Day and short month, "14 May", "28 Apr"."""
        return self._words.day_month.format(
            day=self._number(day), month=self._words.months_short[day.month - 1]
        )

    def month_short(self, day: date) -> str:
        """Short month, "Feb"."""
        return self._words.months_short[day.month - 1]

    def brief_medium(self, day: date) -> str:
        """Short weekday and short month, "Fri 3 Apr"."""
        return self._dated(self.weekday(day), self.brief(day))

    def brief_range(self, first: date, last: date) -> str:
        """A range of days with short months, for drawings."""
        if first == last:
            return self.brief(first)
        if (first.year, first.month) == (last.year, last.month):
            return f"{self._number(first)}{EN_DASH}{self.brief(last)}"
        return f"{self.brief(first)} {self._words.range_word} {self.brief(last)}"

    def month(self, day: date) -> str:
        """Month and year, "May 2027"."""
        return f"{self._words.months[day.month - 1]} {day.year}"

    def weekday(self, day: date) -> str:
        """Short weekday, "Thu"."""
        return self._words.weekdays_short[day.weekday()]

    def days_range(self, first: date, last: date) -> str:
        """Two days as one text: "8-22 May" with an en dash, "28 April to 3 May"; one day alone."""
        if first == last:
            return self.short(first)
        if (first.year, first.month) == (last.year, last.month):
            return f"{self._number(first)}{EN_DASH}{self.short(last)}".replace(" ", THIN)
        year = first.year != last.year or self._with_year(first, None)
        return f"{self.short(first, year=year)} {self._words.range_word} {self.short(last)}"

    def age(self, at_ms: int) -> str:
        """Seconds under 2 minutes, minutes under 2 hours, then the clock, then the day."""
        gone = max(self.now_ms - at_ms, 0)
        if gone < 1000:
            return self._words.now
        if gone < 2 * MINUTE_MS:
            return self._words.seconds_ago.format(n=gone // 1000).replace(" ", THIN, 1)
        if gone < RECENT_MS:
            return self._words.minutes_ago.format(n=gone // MINUTE_MS).replace(" ", THIN, 1)
        if self.day(at_ms) == self.today:
            return self._words.at_clock.format(clock=self.clock(at_ms))
        return self.moment(at_ms)

    def is_recent(self, at_ms: int) -> bool:
        """Whether the age of an instant is told in seconds or minutes."""
        return self.now_ms - at_ms < RECENT_MS

    def moment(self, at_ms: int) -> str:
        """The clock alone today, weekday and clock within a week, else the date."""
        day = self.day(at_ms)
        if day == self.today:
            return self.clock(at_ms)
        if abs((self.today - day).days) < 7:
            return self._words.weekday_clock.format(
                weekday=self._words.weekdays[day.weekday()], clock=self.clock(at_ms)
            )
        return self.medium(day)
