"""Who needs a visit, by when, in which order."""

from __future__ import annotations

import msgspec
import pytest

from analytics.fleet.due import Due, Need, Rules, Standing, due, rounds_ahead, stands
from analytics.samples import DAY_MS, HOUR_MS, Spread
from analytics.setup import LocalTime

NOW = 1_777_550_000_000  # Thursday 30 April 2026, about noon
ROUNDS = (NOW + 20 * HOUR_MS, NOW + 7 * DAY_MS, NOW + 14 * DAY_MS)


def line(number: int, p05: float, p50: float, p95: float, **more: object) -> Standing:
    """A line heard a minute ago, its end in days from now."""
    known: dict[str, object] = {
        "line_no": number,
        "estimate_ms": NOW - 60_000,
        "heard_ms": NOW - 60_000,
        "end_p05_ms": NOW + p05 * DAY_MS,
        "end_p50_ms": NOW + p50 * DAY_MS,
        "end_p95_ms": NOW + p95 * DAY_MS,
        "ends_by": "capacity",
    }
    return msgspec.convert(known | more, Standing)


def one(standing: Standing) -> Due:
    """How this line stands today."""
    return stands(standing, NOW, ROUNDS, Rules())


def test_a_line_is_due_when_it_may_end_before_the_round_after_next() -> None:
    """Tomorrow's round may be left out only where next week's comes in time."""
    soon, later = one(line(1, 2.0, 5.0, 9.0)), one(line(2, 14.0, 30.0, 50.0))

    assert (soon.need, later.need) == (Need.DUE, Need.RIGHT)
    assert soon.chances[1] is not None
    assert soon.chances[1] > 0.75
    assert soon.by_ms == pytest.approx(NOW + 2 * DAY_MS, abs=HOUR_MS)


def test_the_list_is_sorted_by_risk() -> None:
    """Past its end, then what may end, then what is not known, then what is right."""
    past = line(4, -6.0, -3.0, -1.0, ended=0.97)
    unknown = Standing(line_no=2, heard_ms=NOW, estimate_ms=NOW)
    lines = [line(1, 20.0, 40.0, 60.0), unknown, line(3, 2.0, 5.0, 9.0), past]

    found = due(lines, NOW, ROUNDS)

    assert [each.line_no for each in found] == [4, 3, 2, 1]
    assert [each.need for each in found] == [Need.ACT, Need.DUE, Need.DOUBT, Need.RIGHT]


def test_nothing_known_is_doubt_and_never_right() -> None:
    """Without an estimate there is no chance to show."""
    unknown = one(Standing(line_no=1, heard_ms=NOW))

    assert unknown.need is Need.DOUBT
    assert unknown.chances == (None, None, None)
    assert unknown.by_ms is None


def test_silence_is_not_health() -> None:
    """A line that was right ten days ago is silent, its chance a range that holds the old one."""
    ten_days_ago = NOW - 10 * DAY_MS
    heard = one(line(1, 14.0, 20.0, 27.0))
    silent = one(line(1, 14.0, 20.0, 27.0, heard_ms=ten_days_ago, estimate_ms=ten_days_ago))

    assert (heard.need, silent.need) == (Need.RIGHT, Need.SILENT)
    assert silent.low[1] is not None
    assert silent.high[1] is not None
    assert heard.chances[1] is not None
    assert silent.low[1] < heard.chances[1] < silent.high[1]
    assert silent.risk > heard.risk
    assert silent.by_ms is not None
    assert heard.by_ms is not None
    assert silent.by_ms < heard.by_ms


def test_the_risk_of_a_silence_grows_with_every_day() -> None:
    """The longer nobody heard, the higher on the list."""

    def risk(days: float) -> float:
        heard = NOW - round(days * DAY_MS)
        return one(line(1, 14.0, 20.0, 27.0, heard_ms=heard, estimate_ms=heard)).risk

    risks = [risk(days) for days in (2.0, 5.0, 10.0, 20.0)]

    assert risks == sorted(risks)
    assert risks[-1] > 2.0 * risks[0]


def test_a_cartridge_that_grows_too_old_ends_whatever_is_left() -> None:
    """Plenty of capacity, twelve months over on Tuesday."""
    limit = NOW + 5 * DAY_MS
    old = line(1, 90.0, 120.0, 150.0, limit_ms=limit)

    found = one(old)

    assert found.need is Need.DUE
    assert found.chances[0] == pytest.approx(0.0, abs=1e-6)
    assert found.chances[1] == 1.0
    assert found.by_ms == limit


def test_a_fixed_date_does_not_grow_doubtful_by_silence() -> None:
    """The calendar goes on without the box."""
    heard = NOW - 10 * DAY_MS
    old = line(1, 9.0, 9.0, 9.0, ends_by="time", heard_ms=heard, estimate_ms=heard)

    found = one(old)

    assert found.chances == (0.0, 0.0, 1.0)
    assert found.low == found.high == found.chances


def test_carbon_counts_beside_capacity() -> None:
    """Two ends that may come are likelier than one."""
    carbon = Spread(p05=NOW + 3 * DAY_MS, p50=NOW + 6 * DAY_MS, p95=NOW + 9 * DAY_MS)
    with_carbon = one(line(1, 5.0, 8.0, 12.0, carbon_ms=msgspec.structs.asdict(carbon)))
    without = one(line(1, 5.0, 8.0, 12.0))

    assert with_carbon.chances[1] is not None
    assert without.chances[1] is not None
    assert with_carbon.chances[1] > max(without.chances[1], 0.5)


def test_an_alarm_of_high_priority_sends_somebody_at_once() -> None:
    """Hard water at the machine does not wait for a forecast."""
    assert one(line(1, 90.0, 120.0, 150.0, alarm="high")).need is Need.ACT
    assert one(line(1, 90.0, 120.0, 150.0, alarm="low")).need is Need.RIGHT


def test_data_that_contradict_each_other_are_doubt_though_the_figure_is_fine() -> None:
    """The drop test says nine, the figure says five."""
    doubted = one(line(1, 90.0, 120.0, 150.0, doubted=True))

    assert doubted.need is Need.DOUBT
    assert doubted.risk >= 0.5


def test_rounds_start_on_their_weekdays_at_the_companys_own_clock() -> None:
    """Tuesdays and Thursdays at seven, in summer time from the last Sunday of March on."""
    switch = 1_774_746_000_000  # Sunday 29 March 2026, 01:00 UTC
    local = LocalTime(from_ms=(0, switch), offset_s=(3600, 7200))

    found = rounds_ahead([1, 3], switch - 2 * DAY_MS, local, 7 * 60, 4)

    assert [local.weekday_and_hour(at) for at in found] == [(1, 7), (3, 7), (1, 7), (3, 7)]
    assert found[0] == switch + 2 * DAY_MS + 4 * HOUR_MS
    assert rounds_ahead([], NOW, local, 0, 3) == []


def test_without_rounds_ahead_the_list_still_knows_who_is_past() -> None:
    """A service company that has not set its days yet."""
    (found,) = due([line(1, -3.0, -2.0, -1.0)], NOW, ())

    assert found.need is Need.ACT
    assert found.chances == ()
