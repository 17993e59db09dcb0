"""What the office does about a site's box: a code, the end of its login, one of two boxes."""

from __future__ import annotations

import re
from collections.abc import Iterator

import httpx
import pytest

from analytics.samples import HOUR_MS
from firmware_bridge.fleet.identity.enrolment import active_of, waits_until
from firmware_bridge.fleet.identity.words import Claim
from firmware_bridge.fleet.records import audit_rows, site_rows
from firmware_bridge.fleet.records.sight import ALL
from firmware_bridge.forward.broker import MqttOptions
from tests.dashboards.fleet.stocked import NOW_MS, Stock, post, signed_in
from tests.fleet_broker import FleetBroker, fleet_broker
from tests.peers import free_port

pytestmark = [pytest.mark.peer, pytest.mark.xdist_group("fleet-broker")]

SECRET = "s" * 43


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FleetBroker]:
    """A broker whose logins the fleet makes."""
    with fleet_broker(tmp_path_factory.mktemp("boxes") / "b") as found:
        yield found


def away() -> MqttOptions:
    """A broker that does not answer."""
    return MqttOptions(host="127.0.0.1", port=free_port())


def code_in(answer: httpx.Response) -> str:
    """The code that the page tells."""
    found = re.search(r"lastlitre join SITE\.toml (\S+) https://fleet\.example", answer.text)
    assert found is not None, answer.text
    return found.group(1)


def acts_of(fleet: Stock) -> list[tuple[str, int | None]]:
    """What was done, by whom."""
    with fleet.records.read() as connection:
        return [(act.act, act.person_no) for act in audit_rows.every(connection)]


def state_of(fleet: Stock, number: int) -> str:
    """Whether a site is looked after."""
    with fleet.records.read() as connection:
        row = site_rows.one(connection, ALL, number)
    assert row is not None
    return row.state


def logins(fleet: Stock, site: str = "steps") -> int:
    """How many logins of a site work."""
    with fleet.records.read() as connection:
        return len(active_of(connection, site))


def claimed(fleet: Stock) -> int:
    """A site as which two boxes speak."""
    number = fleet.site("steps", name="Harbour Steps", box="aaaa")
    fleet.add("held", site_no=number)
    fleet.add("doubts", site_no=number, line="", doubt="two-boxes", since_ms=NOW_MS - HOUR_MS,
              body='{"boxes":["aaaa","bbbb"]}')  # fmt: skip
    return number


async def test_code_is_shown_once_and_lets_a_box_in(broker: FleetBroker, fleet: Stock) -> None:
    """The page has it now and never again; the box that uses it is told of, until revoked."""
    number, enrolling = fleet.site("steps"), fleet.enrolling(broker.options("keeper"))
    about, doer = f"/site/{number}/about", fleet.people["dispatcher"]
    async with signed_in(fleet.app(enrolling), "dispatcher") as client:
        code = code_in(await post(client, f"/site/{number}/code"))
        waiting = (await client.get(about)).text
        joined = enrolling.join(Claim(code=code, site="steps", secret=SECRET))
        with_box = (await client.get(about)).text
        ended = await post(client, f"/site/{number}/revoke")
        without = (await client.get(about)).text

    assert code not in waiting
    assert "A code waits to be used until" in waiting
    assert joined.login in with_box
    assert (ended.status_code, ended.headers["location"]) == (303, about)
    assert "No box has joined by a code." in without
    assert logins(fleet) == 0
    assert acts_of(fleet) == [("site.code", doer), ("site.joined", None), ("site.revoked", doer)]


async def test_retired_site_loses_its_login(broker: FleetBroker, fleet: Stock) -> None:
    """Nobody speaks for a site that is not looked after; a code that waits is withdrawn too."""
    number, enrolling = fleet.site("steps"), fleet.enrolling(broker.options("keeper"))
    enrolling.join(Claim(code=enrolling.code("steps"), site="steps", secret=SECRET))
    enrolling.code("steps")
    async with signed_in(fleet.app(enrolling), "owner") as client:
        await post(client, f"/site/{number}/retire")
        refused = await post(client, f"/site/{number}/code")

    assert (state_of(fleet, number), logins(fleet)) == ("retired", 0)
    assert refused.status_code == 404
    with fleet.records.read() as connection:
        assert waits_until(connection, "steps", fleet.now_ms) is None
    owner = fleet.people["owner"]
    assert acts_of(fleet)[-3:] == [
        ("site.code-withdrawn", owner), ("site.revoked", owner), ("site.retired", owner)
    ]  # fmt: skip


@pytest.mark.parametrize("act", ["retire", "revoke"])
async def test_broker_that_is_away_is_told_and_nothing_is_claimed(
    broker: FleetBroker, fleet: Stock, act: str
) -> None:
    """The login may still work, so the site is not retired and the login not called ended."""
    number, here = fleet.site("steps"), fleet.enrolling(broker.options("keeper"))
    here.join(Claim(code=here.code("steps"), site="steps", secret=SECRET))
    async with signed_in(fleet.app(fleet.enrolling(away())), "owner") as client:
        refused = await post(client, f"/site/{number}/{act}")

    assert refused.status_code == 422
    assert "The broker does not do as told just now" in refused.text
    assert (state_of(fleet, number), logins(fleet)) == ("adopted", 1)
    here.revoke("steps")


async def test_new_box_is_taken(fleet: Stock) -> None:
    """It is the site's box from then on; no other that anybody names is."""
    number = claimed(fleet)
    async with signed_in(fleet.app(), "dispatcher") as client:
        asked = (await client.get(f"/site/{number}/about")).text
        foreign = await post(client, f"/site/{number}/box/take", box="cccc")
        taken = await post(client, f"/site/{number}/box/take", box="bbbb")
        again = await post(client, f"/site/{number}/box/take", box="bbbb")

    assert "another box speaks under its name" in asked
    assert 'value="bbbb"' in asked
    assert [foreign.status_code, taken.status_code, again.status_code] == [422, 303, 422]
    with fleet.records.read() as connection:
        row = site_rows.one(connection, ALL, number)
    assert row is not None
    assert row.box == "bbbb"
    assert acts_of(fleet) == [("site.box-taken", fleet.people["dispatcher"])]


async def test_old_box_is_kept(fleet: Stock) -> None:
    """The doubt is settled, and the box is the one it was."""
    number = claimed(fleet)
    async with signed_in(fleet.app(), "owner") as client:
        doubt = (await client.get("/doubt")).text
        kept = await post(client, f"/site/{number}/box/keep")
        after = (await client.get(f"/site/{number}/about")).text

    assert f'href="/site/{number}/about"' in doubt
    assert kept.status_code == 303
    assert "another box" not in after
    assert fleet.count("doubts") == 0
    assert acts_of(fleet) == [("site.box-kept", fleet.people["owner"])]


@pytest.mark.parametrize("path", ["code", "revoke", "box/take", "box/keep"])
async def test_nothing_is_done_without_the_forms_token(fleet: Stock, path: str) -> None:
    """Another site's page cannot press these buttons for a person who is signed in."""
    number = claimed(fleet)
    async with signed_in(fleet.app(fleet.enrolling(away())), "owner") as client:
        answer = await client.post(f"/site/{number}/{path}", data={"box": "bbbb"})

    assert answer.status_code == 403
    assert acts_of(fleet) == []
    assert fleet.count("doubts") == 1


async def test_fleet_that_gives_no_logins_says_so(fleet: Stock) -> None:
    """No button, and whoever sends the form anyway is told why."""
    number = fleet.site("steps")
    async with signed_in(fleet.app(), "owner") as client:
        page = (await client.get(f"/site/{number}/about")).text
        refused = await post(client, f"/site/{number}/code")

    assert "Give a code" not in page
    assert refused.status_code == 422
    assert "its file has no [sites] table" in refused.text


async def test_technician_sees_no_buttons(fleet: Stock) -> None:
    """What stands there is for the office."""
    number = claimed(fleet)
    async with signed_in(fleet.app(fleet.enrolling(away())), "technician") as client:
        page = (await client.get(f"/site/{number}/about")).text

    assert "<form" not in page.partition("<main")[2].partition("</main>")[0]
