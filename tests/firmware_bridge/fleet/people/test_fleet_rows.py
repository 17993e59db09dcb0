"""What the pages ask of the records, on SQLite and on PostgreSQL alike."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analytics.errors import ActRefused
from analytics.samples import DAY_MS, HOUR_MS
from firmware_bridge.fleet.people import acts
from firmware_bridge.fleet.people.kept import kept, opens
from firmware_bridge.fleet.records import (
    audit_rows,
    doubt_rows,
    hook_rows,
    line_rows,
    people_rows,
    site_rows,
    visit_rows,
)
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.line_rows import Area
from firmware_bridge.fleet.records.sight import ALL, Sight
from firmware_bridge.fleet.records.site_rows import Wanted
from tests.dashboards.fleet.stocked import NOW_MS, OURS, THEIRS, Stock
from tests.firmware_bridge.fleet.people.changes import alarm_row

DOER = acts.Doer(person_no=None, at_ms=NOW_MS)


@pytest.fixture
def fleet(records: Records, tmp_path: Path) -> Stock:
    """Three adopted sites, one that waits, a doubt, an alarm."""
    found = Stock(tmp_path, records)
    loft = found.site("loft", name="The Net Loft", days=-2.0, region="hill")
    found.site("customs", name="Customs House", days=40.0, region="harbour",
               customer_no=found.customers[OURS])  # fmt: skip
    found.site("pier", name="Pier 9 %_", days=100.0, heard_ms=NOW_MS - 3 * DAY_MS,
               customer_no=found.customers[THEIRS])  # fmt: skip
    found.site("stranger", state="unknown", days=None)
    found.add("tags", site_no=loft, tag="monday")
    found.add("doubts", site_no=2, line="", doubt="two-boxes", since_ms=NOW_MS)
    found.add("alarms", site_no=loft, line="bar", alarm="change-now", state="unacknowledged",
              priority="high", since_ms=NOW_MS, at_ms=NOW_MS)  # fmt: skip
    return found


def names_of(fleet: Stock, sight: Sight = ALL, page: int = 0, **wanted: object) -> list[str]:
    """The names that a search finds, in order."""
    with fleet.records.read() as connection:
        asked = Wanted(**wanted)  # type: ignore[arg-type]
        return [row.name for row in site_rows.page_of(connection, sight, asked, page)]


def test_sites_are_found_by_text_region_tag_and_state(fleet: Stock) -> None:
    """Capitals do not matter; signs that mean something to a database do not either."""
    assert names_of(fleet, text="CUSTOMS") == ["Customs House"]
    assert names_of(fleet, text="9 %_") == ["Pier 9 %_"]
    assert names_of(fleet, text="harbour steps") == ["Customs House"]  # its customer
    assert names_of(fleet, region="hill", tag="monday") == ["The Net Loft"]
    assert names_of(fleet, state="unknown") == ["stranger"]


def test_sites_are_in_the_order_asked_for(fleet: Stock) -> None:
    """By name, region, last word and end; what is not known comes last either way."""
    by_name = ["Customs House", "Pier 9 %_", "The Net Loft"]

    assert names_of(fleet) == by_name
    assert names_of(fleet, down=True) == by_name[::-1]
    assert names_of(fleet, sort="end") == ["The Net Loft", "Customs House", "Pier 9 %_"]
    assert names_of(fleet, sort="heard")[0] == "Pier 9 %_"
    assert names_of(fleet, page=1) == []


def test_sight_of_a_customer_holds_in_every_list(fleet: Stock) -> None:
    """Sites, lines, doubts, regions, tags, counts: one customer's own."""
    ours = Sight(customer_no=fleet.customers[OURS])
    with fleet.records.read() as connection:
        lines = line_rows.every(connection, ours, Area())
        doubts = doubt_rows.all_doubts(connection, ours, 10)

        assert [row.name for row in lines] == ["Customs House"]
        assert [d.doubt for d in doubts] == ["two-boxes"]
        assert site_rows.regions(connection, ours) == ["harbour"]
        assert site_rows.all_tags(connection, ours) == []
        assert site_rows.counts(connection, ours) == {"adopted": 1}
        assert site_rows.one(connection, ours, 1) is None
        assert line_rows.every(connection, Sight(), Area()) == []
        assert site_rows.numbers_of(connection, ours, ["loft", "CUSTOMS"]) == [2]


def test_lines_in_need_are_found_for_every_reason(fleet: Stock) -> None:
    """Past its end with an alarm, doubted, silent; the one that is right is left out."""
    fleet.site("right", days=90.0)
    with fleet.records.read() as connection:
        found = line_rows.in_need(
            connection, ALL, Area(), ends_by_ms=NOW_MS + 30 * DAY_MS, heard_by_ms=NOW_MS - DAY_MS
        )

    assert {row.site for row in found} == {"loft", "customs", "pier"}
    loft = next(row for row in found if row.site == "loft")
    assert loft.alarms == (("change-now", "high", "unacknowledged"),)
    assert loft.alarm == "high"


def test_two_acts_at_one_moment_follow_one_another(records: Records) -> None:
    """Threads that write at once make one chain."""

    def act(number: int) -> None:
        with records.begin() as connection:
            told = audit_rows.Act(at_ms=number, person_no=None, act="test.act", about=str(number))
            audit_rows.write(connection, told)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(act, range(24)))
    with records.read() as connection:
        checked = audit_rows.check(audit_rows.every(connection))

    assert (checked.rows, checked.broken_at) == (24, 0)


def test_act_that_fails_leaves_no_row(records: Records) -> None:
    """What is not done whole is not in the audit."""
    invited = acts.Invitee(login="ada", name="Ada", role="owner")

    def twice() -> None:
        with records.begin() as connection:
            acts.invite(connection, DOER, invited)
            acts.invite(connection, DOER, invited)

    with pytest.raises(ActRefused):
        twice()
    with records.read() as connection:
        assert people_rows.everybody(connection) == []
        assert audit_rows.check(audit_rows.every(connection)).rows == 0


def test_invitation_opens_until_it_is_used_or_over(records: Records) -> None:
    """And no other code does."""
    with records.begin() as connection:
        invited = acts.Invitee(login=" ÀDA ", name="Ada", role="owner")
        number, code = acts.invite(connection, DOER, invited)
        person = people_rows.by_login(connection, "àda")
        assert person is not None
        found = kept(person.password)

        assert opens(found, code, NOW_MS + DAY_MS)
        assert not opens(found, f"{code}x", NOW_MS)
        assert not opens(found, "", NOW_MS)
        assert not opens(found, code, NOW_MS + 8 * DAY_MS)
        acts.keep_password(connection, DOER, number, "{}")
        after = people_rows.by_number(connection, number)
        assert after is not None
        assert not opens(kept(after.password), code, NOW_MS)


def test_plan_of_a_day_replaces_what_was_still_planned(fleet: Stock) -> None:
    """What was done stays; the rest is as planned last."""
    with fleet.records.begin() as connection:
        first = visit_rows.plan(
            connection, "2026-04-30", [visit_rows.Stop(site_no=n) for n in (1, 2)], None
        )
        visit_rows.settle(connection, first[0], "done", "changed")
        visit_rows.plan(connection, "2026-04-30", [visit_rows.Stop(site_no=3)], None)
        found = visit_rows.of_day(connection, ALL, "2026-04-30")
        ours = visit_rows.of_day(
            connection, Sight(customer_no=fleet.customers[THEIRS]), "2026-04-30"
        )
        planned = visit_rows.planned(connection, "2026-04-01")

    assert [(v.site_no, v.state) for v in found] == [(1, "done"), (3, "planned")]
    assert [v.site_no for v in ours] == [3]
    assert planned == {3: "2026-04-30"}


def test_name_of_a_site_is_erased_once(fleet: Stock) -> None:
    """Two erased names of one site do not stand in each other's way."""
    with fleet.records.begin() as connection:
        for name in ("Ida", "Jo"):
            connection.execute(site_rows.names.insert().values(site_no=1, name=name))
        counts = [site_rows.erase_name(connection, 1, n, NOW_MS) for n in ("Ida", "Jo", "Ida")]
        left = site_rows.known_names(connection, 1)

    assert counts == [1, 1, 0]
    assert left == []


def test_hook_is_told_of_its_customers_sites_only(fleet: Stock) -> None:
    """And of nothing twice."""
    with fleet.records.begin() as connection:
        number = hook_rows.add(connection, "https://x.example/", fleet.customers[OURS], NOW_MS)
    for site in (1, 2):
        fleet.rows(site, "alarm", [alarm_row(site, NOW_MS - HOUR_MS)])
    with fleet.records.read() as connection:
        hook = next(h for h in hook_rows.all_hooks(connection, ALL) if h.hook_no == number)
        newest = hook_rows.newest_chunk(connection)
        told, last = hook_rows.changes_in(connection, hook, 0, newest, 0, 50)
        later, _ = hook_rows.changes_in(connection, hook, last, newest, 0, 50)

    assert [change.site for change in told] == ["customs"]
    assert later == []
