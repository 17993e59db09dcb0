"""Who may do what: every address with every role, and nobody sees another customer's site."""

from __future__ import annotations

import re
from pathlib import Path

import httpx
import pytest

from dashboards.fleet.app import answers
from dashboards.fleet.roles import CUSTOMER, ROLES, WAYS, Way
from tests.dashboards.access.served import form_of
from tests.dashboards.fleet.stocked import OURS, THEIRS, Stock, client_of, post, signed_in, stock

OPEN = {"/sign-in", "/sign-out", "/invited", "/static/{name}"}
SLOW = {"/round.pdf", "/site/{site_no:int}/paper/get"}
"""Set paper, which is tried elsewhere; who may is decided before."""


def address(way: Way, number: int = 1) -> str:
    """The way with numbers put in."""
    return re.sub(r"\{\w+:int\}", str(number), way.path).replace("{name}", "sheet.css")


async def sent(client: httpx.AsyncClient, way: Way, token: str, number: int = 1) -> httpx.Response:
    """Use a way; a form is sent empty but for its token."""
    if way.method == "GET":
        return await client.get(address(way, number))
    return await client.post(address(way, number), data={"form": token})


def test_every_way_is_answered_and_nothing_else() -> None:
    """The table and the answers name the same addresses."""
    known = {(way.method, way.path) for way in WAYS}
    of_the_frame = {("GET", "/sign-in"), ("POST", "/sign-in"), ("POST", "/sign-out"),
                    ("GET", "/static/{name}")}  # fmt: skip

    assert len(known) == len(WAYS)
    assert known - of_the_frame == set(answers())


@pytest.mark.parametrize("role", ROLES)
async def test_role_reaches_what_the_table_says_and_no_more(fleet: Stock, role: str) -> None:
    """Whoever is not named with an address gets 403; whoever is, an answer."""
    fleet.site("steps", customer_no=fleet.customers[OURS])
    app = fleet.app()
    async with signed_in(app, role) as client:
        token = form_of((await client.get("/more")).text)
        for way in WAYS:
            if way.path in OPEN or (way.may(role) and way.path in SLOW):
                continue
            if way.method == "POST" and way.may(role) and way.path == "/password":
                continue  # it would end the session
            answer = await sent(client, way, token, 999 if "person_no" in way.path else 1)
            allowed = answer.status_code in (200, 303, 404, 422)
            assert allowed == way.may(role), (role, way.method, way.path, answer.status_code)
            assert allowed or answer.status_code == 403


async def test_nobody_sees_anything_without_signing_in(fleet: Stock) -> None:
    """Every address but the open ones leads to the sign-in page, from this machine too."""
    fleet.site("steps")
    async with client_of(fleet.app()) as client:
        await client.get("/sign-in")
        for way in WAYS:
            if way.path in OPEN:
                continue
            answer = await sent(client, way, "")
            assert answer.status_code == 303, (way.path, answer.status_code)
            assert answer.headers["location"].startswith("/sign-in")


async def test_address_outside_the_table_does_not_exist(fleet: Stock) -> None:
    """What the table does not have is not there for an owner either."""
    async with signed_in(fleet.app(), "owner") as client:
        for path in ("/live", "/metrics", "/act/drop-test", "/site/1/wiring", "/fit", "/nothing"):
            assert (await client.get(path)).status_code == 404


async def test_customer_cannot_read_or_touch_another_customers_site(fleet: Stock) -> None:
    """Every address about a site, with the number of somebody else's: 404, as if it were not."""
    ours = fleet.site("steps", name="Harbour Steps", customer_no=fleet.customers[OURS])
    theirs = fleet.site("loft", name="The Net Loft", customer_no=fleet.customers[THEIRS])
    nobodys = fleet.site("pier", name="Pier Nine")
    async with signed_in(fleet.app(), CUSTOMER) as client:
        token = form_of((await client.get("/more")).text)
        ways = [way for way in WAYS if "{site_no:int}" in way.path and way.may(CUSTOMER)]
        assert len(ways) >= 7
        for way in ways:
            for number in (theirs, nobodys, 4711):
                answer = await sent(client, way, token, number)
                assert answer.status_code == 404, (way.path, number)
                assert "Net Loft" not in answer.text
                assert "Pier Nine" not in answer.text
        assert (await client.get(f"/site/{ours}/now")).status_code == 200


async def test_lists_hold_only_the_customers_own_sites(fleet: Stock) -> None:
    """Neither searching nor tags nor the CSV shows another customer's site."""
    fleet.site("steps", name="Harbour Steps", customer_no=fleet.customers[OURS], region="quay")
    theirs = fleet.site(
        "loft", name="The Net Loft", customer_no=fleet.customers[THEIRS], region="hill"
    )
    fleet.add("tags", site_no=theirs, tag="secret-tag")
    queries = ("", "?q=Loft", "?tag=secret-tag", "?region=hill", "?state=unknown", "?sort=end")
    async with signed_in(fleet.app(), CUSTOMER) as client:
        for query in queries:
            for path in ("/sites", "/sites.csv"):
                text = (await client.get(f"{path}{query}")).text
                assert "Net Loft" not in text.replace("?q=Loft", ""), query
                assert ">secret-tag<" not in text
                assert "hill<" not in text
        assert "Harbour Steps" in (await client.get("/sites")).text


async def test_customer_ends_no_webhook_but_their_own(fleet: Stock) -> None:
    """A webhook of the house or of another customer is not there for them."""
    for customer_no in (None, fleet.customers[THEIRS], fleet.customers[OURS]):
        fleet.add("hooks", url="https://example.org/x", customer_no=customer_no, made_ms=1)
    async with signed_in(fleet.app(), CUSTOMER) as client:
        answers_ = [(await post(client, f"/hooks/{n}/end")).status_code for n in (1, 2, 3)]

    assert answers_ == [404, 404, 303]


async def test_end_and_new_role_hold_at_once(tmp_path: Path) -> None:
    """An open session loses what its person loses, with the next request."""
    with stock(tmp_path) as fleet:
        app, number = fleet.app(), fleet.people["dispatcher"]
        async with signed_in(app, "owner") as owner, signed_in(app, "dispatcher") as other:
            before = await other.get("/people")
            await post(owner, f"/people/{number}/role", role="owner")
            raised = await other.get("/people")
            await post(owner, f"/people/{number}/end")
            ended = await other.get("/people")

        assert [before.status_code, raised.status_code, ended.status_code] == [403, 200, 303]
        assert "End" in raised.text
