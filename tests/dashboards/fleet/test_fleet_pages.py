"""What the service company's pages say; hostile names do no harm."""

from __future__ import annotations

import csv
import io
import re

import msgspec
import pytest
from icalendar import Calendar

from analytics.samples import DAY_MS, HOUR_MS
from dashboards.fleet.paging import pages_of
from firmware_bridge.fleet.records import tables
from tests.dashboards.fleet.stocked import NOW_MS, OURS, Stock, post, signed_in

MARKUP = "<script>alert(1)</script>\"'&"
SQL = "'; DROP TABLE sites; --"
FORMULA = '=HYPERLINK("https://x")'


def rows_of(text: str) -> list[dict[str, str]]:
    """A CSV by its head."""
    return list(csv.DictReader(io.StringIO(text)))


def order_in(html: str, *names: str) -> list[str]:
    """The names in the order in which they first stand on the page."""
    return sorted(names, key=html.index)


async def test_due_is_sorted_by_risk_with_its_reasons(fleet: Stock) -> None:
    """Past its end, then likely before the next round, then doubt, silence and what is right."""
    fleet.site("right", name="Right One", days=30.0)
    fleet.site("past", name="Past One", days=-3.0)
    fleet.site("soon", name="Soon One", days=3.0)
    aged = fleet.site("aged", name="Aged One", days=5.0, spread=0.0, ends_by="time")
    fleet.site("silent", name="Silent One", days=25.0, heard_ms=NOW_MS - 5 * DAY_MS)
    fleet.site("doubted", name="Doubted One", days=60.0, trusted=False)
    alarmed = fleet.site("alarmed", name="Alarmed One", days=60.0)
    fleet.add("alarms", site_no=alarmed, line="bar", alarm="breakthrough", state="acknowledged",
              priority="medium", since_ms=NOW_MS, at_ms=NOW_MS)  # fmt: skip
    async with signed_in(fleet.app(), "dispatcher") as client:
        html = (await client.get("/due?next=2026-04-30")).text
        table = rows_of((await client.get("/due.csv?next=2026-04-30")).text)

    names = ("Past One", "Soon One", "Aged One", "Silent One", "Doubted One", "Right One")
    assert order_in(html, *names)[0] == "Past One"
    assert order_in(html, "Soon One", "Right One") == ["Soon One", "Right One"]
    assert "Past its end since" in html
    assert "for its age, not its capacity" in html
    assert "No word since Thu 23 Apr, 14:32." in html
    assert "cannot be trusted" in html
    assert "Alarmed One" in html
    need = {row["name"]: row["need"] for row in table}
    assert need["Past One"] == "act"
    assert need["Soon One"] == need["Aged One"] == "due"
    assert need["Silent One"] == "silent"
    assert need["Doubted One"] == "doubt"
    assert float(next(r for r in table if r["name"] == "Soon One")["chance_by_round_after"]) > 0.5
    assert aged


async def test_silent_site_never_looks_well(fleet: Stock) -> None:
    """However good its last figure was: not on Due, not among the sites, not on its own page."""
    number = fleet.site("quiet", name="Quiet One", days=80.0, heard_ms=NOW_MS - 5 * DAY_MS)
    async with signed_in(fleet.app(), "technician") as client:
        due = (await client.get("/due")).text
        sites = (await client.get("/sites")).text
        doubt = (await client.get("/doubt")).text
        now = (await client.get(f"/site/{number}/now")).text

    for html in (due, sites, now):
        assert 'class="glass silent"' in html
        assert 'class="glass right"' not in html
    assert "Quiet One" in doubt
    assert "No word from the meters since" in now


async def test_due_counts_by_area_and_says_who_is_left_out(fleet: Stock) -> None:
    """A region or a tag narrows the list; the sentence counts sites, not lines."""
    fleet.site("one", days=-1.0, region="quay", lines=("bar", "kitchen"))
    hill = fleet.site("two", days=-1.0, region="hill")
    fleet.add("tags", site_no=hill, tag="monday")
    async with signed_in(fleet.app(), "dispatcher") as client:
        everything = (await client.get("/due?next=2026-04-30")).text
        quay = (await client.get("/due?next=2026-04-30&region=quay")).text
        monday = (await client.get("/due?next=2026-04-30&tag=monday")).text

    assert "Take the van to two sites on Thursday 30 April." in everything
    assert "One site needs a visit on Thursday 30 April." in quay
    assert "2 × hydrogen, size 3" in quay
    assert ">two<" in monday
    assert ">one<" not in monday


@pytest.mark.parametrize(
    "query", ["next=never", "next=2026-13-45", "next=0001-01-01", "next=9999-12-31", "every=0",
              "every=-3", "every=9e9", "page=0", "page=-1", "page=99999999999999999999",
              "region=%00", "tag=%27%20OR%201=1", "page=%C2%B2"],
)  # fmt: skip
async def test_query_that_cannot_be_is_passed_over(fleet: Stock, query: str) -> None:
    """A page comes, as if nothing was asked."""
    fleet.site("one", days=-1.0)
    async with signed_in(fleet.app(), "dispatcher") as client:
        for path in ("/due", "/sites", "/round", "/parts", "/doubt", "/due.csv"):
            assert (await client.get(f"{path}?{query}")).status_code == 200, path


async def test_round_is_proposed_kept_done_and_dropped(fleet: Stock) -> None:
    """Nearest in good order; the plan stays as it was kept, with what became of each stop."""
    far = fleet.site("far", name="Far One", days=1.0, latitude=51.60, longitude=-0.30)
    near = fleet.site("near", name="Near One", days=1.0, latitude=51.501, longitude=-0.101)
    left = fleet.site("left", name="Left One", days=1.0, latitude=51.502, longitude=-0.102)
    day = "2026-04-30"
    async with signed_in(fleet.app(), "dispatcher") as client:
        start = "51.5000,-0.1000"
        proposal = (await client.get(f"/round?day={day}&from={start}")).text
        found = re.search(r'name="order" value="([\d,]+)"', proposal)
        assert found is not None
        order = found[1]
        taken = {f"take{n}": "yes" for n in (far, near)}
        kept = await post(client, "/round", day=day, order=order, **{"from": start}, **taken)
        plan = (await client.get(f"/round?day={day}")).text
        await post(client, "/visit/1", state="done", note="changed the bed")
        await post(client, "/visit/2", state="dropped", note="shut")
        after = (await client.get(f"/round?day={day}")).text
        due = (await client.get("/due")).text

    assert sorted(map(int, order.split(","))) == sorted((far, near, left))
    assert kept.status_code == 303
    assert "Two stops on Thursday 30 April." in plan
    assert "Left One" not in plan
    assert order_in(plan, "Near One", "Far One") == ["Near One", "Far One"]
    assert "changed the bed" in after
    assert "One stop on Thursday 30 April." in after
    assert "Planned for" not in due


async def test_round_of_listed_sites_goes_where_it_is_told(fleet: Stock) -> None:
    """Sites by name, however right they are; what is not ours is passed over."""
    fleet.site("steps", name="Harbour Steps", days=80.0)
    fleet.site("loft", name="The Net Loft", days=-5.0)
    async with signed_in(fleet.app(), "dispatcher") as client:
        page = await client.get("/round?sites=harbour%20STEPS,%20nobody&new=yes")

    assert "Harbour Steps" in page.text
    assert "The Net Loft" not in page.text
    assert "One stop on" in page.text


async def test_round_without_any_place_is_in_order_of_need(fleet: Stock) -> None:
    """And says so."""
    fleet.site("past", name="Past One", days=-3.0)
    fleet.site("soon", name="Soon One", days=4.0)
    async with signed_in(fleet.app(), "dispatcher") as client:
        html = (await client.get("/round")).text

    assert "No place of these sites is entered" in html
    assert order_in(html, "Past One", "Soon One") == ["Past One", "Soon One"]


async def test_calendar_file_is_read_by_a_calendar(fleet: Stock) -> None:
    """A stop an entry, with place, times, what to bring; names with commas and lines stay whole."""
    name = "Quay, Lane; Bakery\\n"
    site = fleet.site("quay", name=name, days=1.0, latitude=51.5, longitude=-0.1, address="1 Quay")
    async with signed_in(fleet.app(), "dispatcher") as client:
        before = await client.get("/round.ics?day=2026-04-30")
        await post(client, "/round", day="2026-04-30", order=str(site), **{f"take{site}": "yes"})
        file = await client.get("/round.ics?day=2026-04-30")
    calendar = Calendar.from_ical(file.content)
    (event,) = calendar.walk("VEVENT")

    assert before.status_code == 404
    assert file.headers["content-type"].startswith("text/calendar")
    assert str(event["summary"]) == name
    assert str(event["location"]) == "1 Quay"
    assert "hydrogen, size 3" in str(event["description"])
    assert event["dtstart"].dt.isoformat() == "2026-04-30T08:00:00+00:00"
    assert event["dtend"].dt > event["dtstart"].dt
    assert str(event["uid"]).startswith("visit-1@")


async def test_sheet_for_the_van_is_set(fleet: Stock) -> None:
    """As PDF, hostile names and all."""
    site = fleet.site("quay", name=MARKUP, days=1.0, latitude=51.5, longitude=-0.1)
    async with signed_in(fleet.app(), "technician") as client:
        paper = await client.get("/round.pdf?day=2026-04-30")

    assert site
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF")


async def test_parts_are_counted_by_size_with_ranges(fleet: Stock) -> None:
    """What ends within the weeks counts; what is not known is told apart."""
    for n in range(6):
        fleet.site(f"a{n}", days=5.0 + n)
    for n in range(4):
        fleet.site(f"b{n}", days=200.0, line={"medium": "magnesium", "size": "5"})
    fleet.site("unknown", days=None, line={"medium": "hydrogen", "size": "3"})
    async with signed_in(fleet.app(), "dispatcher") as client:
        html = (await client.get("/parts?weeks=6")).text
        table = rows_of((await client.get("/parts.csv?weeks=6")).text)
    by_size = {(row["medium"], row["size"]): row for row in table}
    hydrogen, magnesium = by_size["hydrogen", "3"], by_size["magnesium", "5"]

    assert 5 <= int(hydrogen["likely"]) <= 8
    assert int(hydrogen["p05"]) <= int(hydrogen["likely"]) <= int(hydrogen["p95"])
    assert hydrogen["lines_not_known"] == "1"
    assert magnesium["likely"] == "0"
    assert "In the next six weeks about" in html
    assert "One line more, whose end is not known" in html


async def test_unknown_site_waits_is_adopted_and_retired(fleet: Stock) -> None:
    """It is on no list of work before a person adopts it."""
    number = fleet.site("box-1", name="Who Am I", state="unknown", days=-5.0)
    async with signed_in(fleet.app(), "dispatcher") as client:
        due = (await client.get("/due")).text
        waiting = (await client.get("/sites?state=unknown")).text
        await post(client, f"/site/{number}/adopt")
        adopted = (await client.get("/due")).text
        await post(client, f"/site/{number}/retire")
        retired = (await client.get("/due")).text
        twice = await post(client, f"/site/{number}/retire")

    assert "Who Am I" not in due
    assert "One site waits to be adopted." in waiting
    assert "Who Am I" in adopted
    assert "Who Am I" not in retired
    assert twice.status_code == 404


async def test_hostile_names_are_shown_as_they_are(fleet: Stock) -> None:
    """Markup is text, SQL is text, and no cell of a table is a formula."""
    number = fleet.site(f"s{MARKUP}", name=MARKUP, days=-2.0, region=MARKUP, address=SQL,
                        lines=(MARKUP,), program=MARKUP, box=MARKUP)  # fmt: skip
    fleet.site("formula", name=FORMULA, days=-2.0)
    fleet.add("tags", site_no=number, tag=MARKUP)
    fleet.add("doubts", site_no=number, line=MARKUP, doubt=MARKUP, since_ms=NOW_MS)
    fleet.add("alarms", site_no=number, line=MARKUP, alarm=MARKUP, state="unacknowledged",
              priority=MARKUP, since_ms=NOW_MS, at_ms=NOW_MS)  # fmt: skip
    fleet.add("aside", at_ms=NOW_MS, site=MARKUP, topic=MARKUP, reason=SQL, payload=b"\0\xff")
    fleet.add("names", site_no=number, name=MARKUP)
    paths = ("/due", "/round", "/parts", "/sites", "/doubt", f"/site/{number}/now",
             f"/site/{number}/history", f"/site/{number}/alarms", f"/site/{number}/paper",
             f"/site/{number}/about")  # fmt: skip
    async with signed_in(fleet.app(), "owner") as client:
        for path in paths:
            page = await client.get(path)
            assert page.status_code == 200, path
            assert "<script>alert" not in page.text, path
        search = await client.get("/sites", params={"q": SQL})
        tables_ = [(await client.get(p)).text for p in ("/sites.csv", "/due.csv")]

    assert search.status_code == 200
    assert MARKUP.replace("&", "&amp;") not in search.text
    assert fleet.count("sites") == 2
    for table in tables_:
        names = [row["name"] for row in rows_of(table)]
        assert f"'{FORMULA}" in names
        assert MARKUP in names


async def test_what_is_entered_about_a_site_is_checked_and_kept(fleet: Stock) -> None:
    """Faults are told with what was typed; a decimal comma is understood."""
    number = fleet.site("steps")
    where = f"/site/{number}/about"
    async with signed_in(fleet.app(), "dispatcher") as client:
        bad = await post(client, where, latitude="95", longitude="x", region="a\tb")
        half = await post(client, where, latitude="51.5", longitude="")
        good = await post(client, where, latitude="51,5", longitude="-0.1", region="quay",
                          address="1 Quay", customer="New Customer", tags="b, a, b")  # fmt: skip
        page = (await client.get(where)).text

    assert [bad.status_code, half.status_code, good.status_code] == [422, 422, 303]
    assert 'value="95"' in bad.text
    assert "between -90 and 90" in bad.text
    for text in ("51.500000", "-0.100000", "quay", "New Customer", "a, b"):
        assert f'value="{text}"' in page


async def test_sites_are_paged_and_every_page_can_be_bookmarked(fleet: Stock) -> None:
    """A hundred a page; the CSV has all of them; links keep what was asked."""
    with fleet.records.begin() as connection:
        rows = [
            {"site": f"s{n:04}", "name": f"Site {n:04}", "state": "adopted", "region": "quay",
             "heard_ms": NOW_MS}
            for n in range(250)
        ]  # fmt: skip
        connection.execute(tables.sites.insert(), rows)
    async with signed_in(fleet.app(), "dispatcher") as client:
        first = (await client.get("/sites?region=quay")).text
        last = (await client.get("/sites?region=quay&page=3")).text
        table = rows_of((await client.get("/sites.csv?region=quay")).text)

    assert first.count('class="site-name"') == 100
    assert last.count('class="site-name"') == 50
    assert "region=quay&amp;page=2" in first
    assert "Site 0249" in last
    assert len(table) == 250


def test_page_that_is_not_there_is_the_nearest() -> None:
    """Too far is the last, nonsense the first."""
    assert pages_of({"page": "9"}, "/x", 250, 100).number == 3
    assert pages_of({"page": "x"}, "/x", 250, 100).number == 1
    assert pages_of({}, "/x", 0, 100).count == 1


async def test_doubts_say_what_they_mean_and_what_to_do(fleet: Stock) -> None:
    """One that this program does not know is named as it came."""
    number = fleet.site("steps", name="Harbour Steps")
    for doubt in ("two-boxes", "clock-ahead", "of-the-future"):
        body = msgspec.json.encode({"x": 1}).decode()
        fleet.add("doubts", site_no=number, line="", doubt=doubt, since_ms=NOW_MS - HOUR_MS,
                  body=body)  # fmt: skip
    async with signed_in(fleet.app(), "technician") as client:
        html = (await client.get("/doubt")).text

    assert "One site is not to be taken at its word." in html
    assert "Two boxes claim to be this site" in html
    assert "See that the box reaches a time server" in html
    assert "of-the-future" in html


async def test_records_that_do_not_answer_are_told_in_plain_words(fleet: Stock) -> None:
    """No address, no statement, no trace of the database is on the page."""
    fleet.site("steps", customer_no=fleet.customers[OURS])
    async with signed_in(fleet.app(), "dispatcher") as client:
        with fleet.records.begin() as connection:
            connection.exec_driver_sql("DROP TABLE alarms")
        answer = await client.get("/due")

    assert answer.status_code == 503
    assert "The records do not answer just now." in answer.text
    assert "alarms" not in answer.text.replace("Alarms", "")
    assert "sqlite" not in answer.text.lower()


async def test_nobody_is_sent_to_a_site_for_being_new(fleet: Stock) -> None:
    """Its first figure is on its way; after two days without one somebody has to look."""
    fleet.site("new", name="New One", days=None, first_heard_ms=NOW_MS - HOUR_MS)
    fleet.site("past", name="Past One", days=-3.0)
    async with signed_in(fleet.app(), "dispatcher") as client:
        before = (await client.get("/due?next=2026-05-04")).text
        plan = (await client.get("/round?day=2026-05-04")).text
        fleet.now_ms += 2 * DAY_MS
        after = (await client.get("/due?next=2026-05-05")).text

    assert "One site needs a visit on Monday 4 May." in before
    assert "One line is new: its first figure is on its way." in before
    assert order_in(before, "Past One", "New One") == ["Past One", "New One"]
    assert "New One" not in plan
    assert "How much is left is not known." in after
