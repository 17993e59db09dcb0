"""Days left: by the habit of weekday and hour, opening hours, closures, and competing ends."""

from __future__ import annotations

import warnings
from datetime import UTC, datetime
from functools import cache

import msgspec
import numpy as np
import pytest

from analytics.ends import first_end, time_limit_ms
from analytics.samples import DAY_MS, HOUR_MS, Closure, Floats, Spread, no_draws
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, days_until, expected_l, forecast, observe, stated_l
from analytics.weigh import start_weighing, weigh
from tests.analytics.test_estimator_evidence import FITTED, REPORT, hourly
from tests.makers import MONDAY_MS, hydrogen_line

pytestmark = pytest.mark.timeout(120)  # weeks of steps; the first waits for its curves

LOCAL = LocalTime()
CAFE = ((420, 1080),) * 6 + ((0, 0),)
WEEKS, LEARNT_WEEKS = 16, 8
TRADES = (1.0, 0.8, 0.85, 0.95, 1.3, 1.5, 0.0)
"""Custom of a week's days, Monday first; Sundays shut (common practice, no source)."""


@cache
def patterns() -> dict[str, Floats]:
    """Hourly demand patterns shipped with wntr that stand for trades, each with mean 1."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns on import of its own parts
        from wntr.library import DemandPatternLibrary

        library = DemandPatternLibrary()
        found = {}
        for entry in library.library.values():
            multipliers = np.array(entry["multipliers"], dtype=np.float64)
            if entry["category"] == "Commercial" and len(multipliers) == 24:
                found[entry["name"]] = multipliers / multipliers.mean()
    return found


def season(pattern: Floats, seed: int) -> Floats:
    """Litres of every hour of sixteen weeks: 60 L on a usual day, scattered by a fifth a day."""
    rng = np.random.default_rng(seed)
    days = np.tile(TRADES, WEEKS) * np.exp(0.2 * rng.standard_normal(7 * WEEKS))
    return np.outer(60.0 * days, pattern / 24.0)


def learnt(litres: Floats) -> Usage:
    """The use as it is known after the first eight weeks."""
    usage = Usage()
    draws = no_draws()
    for day, hours in enumerate(litres[: 7 * LEARNT_WEEKS]):
        begin = MONDAY_MS + day * DAY_MS
        wet = np.flatnonzero(hours > 0.0)
        at = begin + wet * HOUR_MS + HOUR_MS // 2
        pulses = np.round(1000.0 * hours[wet]).astype(np.int64)
        drawn = msgspec.structs.replace(draws, start_ms=at, end_ms=at, pulses=pulses)
        usage = observe(usage, drawn, 1000.0, begin + DAY_MS, 0, LOCAL)
    return usage


def truly(litres: Floats, left: float, begin_hour: int) -> float:
    """Days until so many litres were drawn, from an hour of the weeks held back on."""
    ahead = litres[7 * LEARNT_WEEKS :].ravel()[begin_hour:]
    drawn = np.concatenate(([0.0], np.cumsum(ahead)))
    return float(np.interp(left, drawn, np.arange(len(drawn)) / 24.0))


def errors(days_worth: float) -> tuple[Floats, Floats, float]:
    """Errors in days of the walk by weekday and hour and of the flat average, begun at morning and
    evening of every weekday held back; and how often the range held the truth."""
    begin, line, left = MONDAY_MS + 7 * LEARNT_WEEKS * DAY_MS, hydrogen_line(), 60.0 * days_worth
    exact = Spread(p50=left, p05=left, p95=left)
    own, flat, inside = [], [], []
    for seed, pattern in enumerate([*patterns().values()] * 2):
        litres = season(pattern, seed)
        usage = learnt(litres)
        ahead, mean = forecast(usage, line), litres[: 7 * LEARNT_WEEKS].sum(axis=1).mean()
        for hour in [24 * day + h for day in range(7) for h in (7, 19)]:
            at, true = begin + hour * HOUR_MS, truly(litres, left, hour)
            days = days_until(ahead, usage, exact, at, LOCAL, 300.0, line.opening)
            assert days is not None
            own.append(abs(days.p50 - true))
            flat.append(abs(left / mean - true))
            inside.append(days.p05 <= true <= days.p95)
    return np.array(own), np.array(flat), float(np.mean(inside))


@pytest.mark.parametrize(("days_worth", "ratio"), [(0.5, 0.6), (2.3, 0.8), (9.4, 0.95)])
def test_days_left_on_held_out_weeks_are_nearer_than_by_a_flat_average(
    days_worth: float, ratio: float
) -> None:
    """Half a day's, two days' and nine days' litres left, on shipped demand patterns with shut
    Sundays: the mean error is below the flat average's, most where the end is near."""
    own, flat, inside = errors(days_worth)

    assert len(patterns()) >= 2
    assert own.mean() < ratio * flat.mean()
    assert inside >= 0.7


def test_a_saturday_evening_is_followed_by_a_shut_sunday() -> None:
    """Ten litres left on a Saturday night last until Monday, not until Sunday noon."""
    usage = learnt(season(next(iter(patterns().values())), 1))
    line = hydrogen_line()
    at = MONDAY_MS + (7 * LEARNT_WEEKS + 5) * DAY_MS + 23 * HOUR_MS
    left = Spread(p50=10.0, p05=10.0, p95=10.0)
    days = days_until(forecast(usage, line), usage, left, at, LOCAL, 300.0, line.opening)

    assert days is not None
    assert days.p50 > 1.2


def test_opening_hours_serve_before_habits_are_known() -> None:
    """On the first Saturday night, with one day's use known, a shut Sunday counts as shut."""
    line, usage = hydrogen_line(), Usage(today_l=60.0)
    at = MONDAY_MS + 5 * DAY_MS + 20 * HOUR_MS
    left = Spread(p50=20.0, p05=20.0, p95=20.0)

    def days(setup: LineSetup) -> float:
        found = days_until(forecast(usage, setup), usage, left, at, LOCAL, 300.0, setup.opening)
        assert found is not None
        return found.p50

    assert days(hydrogen_line(opening=CAFE)) > 35 / 24
    assert days(line) < 12 / 24


def test_hours_past_midnight_are_hours_of_use() -> None:
    """A bar open from 18:00 to 02:00 draws its litres then."""
    bar = hydrogen_line(opening=((1080, 1560),) * 7, flow_meter=False, litres_a_day=80.0)
    evening, night, day = (
        stated_l(bar, LOCAL, MONDAY_MS + first * HOUR_MS, MONDAY_MS + last * HOUR_MS, ())
        for first, last in ((42, 48), (48, 50), (50, 66))
    )

    assert evening == pytest.approx(60.0)
    assert night == pytest.approx(20.0)
    assert day == 0.0


def test_an_announced_closure_is_waited_out() -> None:
    """Shut from tomorrow for ten days: days left grow by ten, before the closure begins."""
    draws, days = hourly(15), 15
    until = MONDAY_MS + days * DAY_MS
    closure = Closure(
        at_ms=until + DAY_MS,
        until_ms=until + 11 * DAY_MS,
        known_at_ms=MONDAY_MS + 14 * DAY_MS,
        event_id="c",
    )

    def run(*events: Closure) -> tuple[float, float]:
        line = hydrogen_line()
        facts = (FITTED, REPORT, *events)
        _, found = weigh(line, LOCAL, 11, start_weighing(line, 11), draws, facts, until)
        before = [e for e in found if e.at_ms <= MONDAY_MS + 13 * DAY_MS][-1]
        assert before.days_left is not None
        assert found[-1].days_left is not None
        return before.days_left.p50, found[-1].days_left.p50

    plain, told = run(), run(closure)

    assert told[0] == plain[0]
    assert told[1] - plain[1] == pytest.approx(10.0, abs=0.1)


def test_stated_use_stops_in_a_closure() -> None:
    """No flow meter: two of four days are shut, so half the stated litres pass."""
    line = hydrogen_line(flow_meter=False, litres_a_day=40.0)
    shut = ((MONDAY_MS + DAY_MS, MONDAY_MS + 3 * DAY_MS),)

    assert stated_l(line, LOCAL, MONDAY_MS, MONDAY_MS + 4 * DAY_MS, ()) == pytest.approx(160.0)
    assert stated_l(line, LOCAL, MONDAY_MS, MONDAY_MS + 4 * DAY_MS, shut) == pytest.approx(80.0)


def test_a_week_shut_by_announcement_does_not_become_a_habit() -> None:
    """After a closure the usual litres of a day are what they were."""
    draws = hourly(28)
    first, last = MONDAY_MS + 14 * DAY_MS, MONDAY_MS + 21 * DAY_MS
    kept = np.flatnonzero((draws.end_ms < first) | (draws.end_ms >= last))
    shut = msgspec.structs.replace(
        draws, **{n: getattr(draws, n)[kept] for n in draws.__struct_fields__}
    )
    line, until = hydrogen_line(), MONDAY_MS + 28 * DAY_MS
    closure = Closure(at_ms=first, until_ms=last, event_id="c")

    def usual(*events: Closure) -> float:
        facts = (FITTED, REPORT, *events)
        state, _ = weigh(line, LOCAL, 11, start_weighing(line, 11), shut, facts, until)
        return expected_l(state.usage, line, until, until + 7 * DAY_MS, LOCAL)

    assert usual(closure) == pytest.approx(280.0, rel=0.1)
    assert usual() < 240.0


def usage_of(litres_a_day: float) -> Usage:
    """Eight even weeks."""
    return learnt(np.full((7 * WEEKS, 24), litres_a_day / 24.0))


LITRES = Spread(p50=1000.0, p05=800.0, p95=1250.0)
NOW = MONDAY_MS + 100 * DAY_MS


@pytest.mark.parametrize(
    ("carbon_l", "limit_days", "by", "days"),
    [
        (None, None, "capacity", 25.0),
        (None, 110.0, "time", 10.0),
        (None, 150.0, "capacity", 25.0),
        (400.0, None, "carbon", 10.0),
        (400.0, 105.0, "time", 5.0),
        (400.0, 115.0, "carbon", 10.0),
    ],
)
def test_the_earliest_end_wins_and_is_named(
    carbon_l: float | None, limit_days: float | None, by: str, days: float
) -> None:
    """40 L a day and 1000 L left: 25 days by capacity, against carbon's litres and the calendar."""
    line = hydrogen_line(time_limit_days=limit_days, carbon_l=5000.0 if carbon_l else None)
    limit = time_limit_ms(line, MONDAY_MS)
    end = first_end(line, LOCAL, usage_of(40.0), LITRES, carbon_l, limit, NOW, ())

    assert end.by == by
    assert end.days is not None
    assert end.at_ms is not None
    assert end.days.p50 == pytest.approx(days, rel=0.05)
    assert end.at_ms.p50 == pytest.approx(NOW + days * DAY_MS, abs=1.5 * DAY_MS)
    assert end.days.p05 <= end.days.p50 <= end.days.p95


def test_a_time_limit_cuts_the_upper_range_of_a_nearer_capacity() -> None:
    """Likely spent in 25 days, too old in 27: no day after the 27th is promised."""
    line = hydrogen_line(time_limit_days=127.0)
    end = first_end(
        line, LOCAL, usage_of(40.0), LITRES, None, time_limit_ms(line, MONDAY_MS), NOW, ()
    )

    assert end.by == "capacity"
    assert end.days is not None
    assert end.days.p95 == pytest.approx(27.0)


def test_a_limit_that_has_passed_leaves_no_days_and_tells_the_day_it_passed() -> None:
    """Six weeks too old: no days left; the date is the past one."""
    line = hydrogen_line(time_limit_days=58.0)
    end = first_end(
        line, LOCAL, usage_of(40.0), LITRES, None, time_limit_ms(line, MONDAY_MS), NOW, ()
    )

    assert end.by == "time"
    assert end.days is not None
    assert end.at_ms is not None
    assert end.days.p50 == 0.0
    assert end.at_ms.p50 == pytest.approx(MONDAY_MS + 58 * DAY_MS)


def test_a_cartridge_with_months_alone_has_an_end_and_is_trusted() -> None:
    """Carbon with no stated litres: age is all there is, and the figure stands."""
    line = hydrogen_line(
        medium="carbon", capacity_mmol=None, inlet_probe=False, time_limit_days=180.0
    )
    _, found = weigh(
        line, LOCAL, 11, start_weighing(line, 11), hourly(3), (FITTED,), MONDAY_MS + 3 * DAY_MS
    )
    end = found[-1].end_ms

    assert found[-1].ends_by == "time"
    assert found[-1].trusted
    assert end is not None
    assert datetime.fromtimestamp(end.p50 / 1000, tz=UTC).date().isoformat() == "2024-11-09"
