"""The page of one's own tokens."""

from __future__ import annotations

import re

from firmware_bridge.fleet.identity.tokens import bearer_of, tokens_of
from tests.dashboards.fleet.stocked import Stock, post, signed_in


async def test_token_is_shown_once_and_works(fleet: Stock) -> None:
    """Who makes one sees it now and never again; it speaks for that person."""
    async with signed_in(fleet.app(), "dispatcher") as client:
        made = await post(client, "/tokens", what_for="<b>stock</b> list", days="7", change="yes")
        again = await client.get("/tokens")

    found = re.search(r"llt_[\w-]{43}", made.text)
    assert found is not None
    assert found.group() not in again.text
    assert "&lt;b&gt;stock&lt;/b&gt; list" in again.text
    with fleet.records.read() as connection:
        bearer = bearer_of(connection, found.group(), fleet.now_ms)
    assert bearer is not None
    assert (bearer.role, bearer.may_change) == ("dispatcher", True)


async def test_a_customers_token_only_reads(fleet: Stock) -> None:
    """Whatever the form says."""
    async with signed_in(fleet.app(), "customer") as client:
        made = await post(client, "/tokens", what_for="list", change="yes")

    with fleet.records.read() as connection:
        bearer = bearer_of(connection, re.findall(r"llt_[\w-]{43}", made.text)[0], fleet.now_ms)
    assert bearer is not None
    assert not bearer.may_change


async def test_only_ones_own_token_is_ended(fleet: Stock) -> None:
    """Another's is not there; one's own is gone from the page and works no more."""
    app, number = fleet.app(), fleet.people["dispatcher"]
    async with signed_in(app, "dispatcher") as mine, signed_in(app, "owner") as other:
        await post(mine, "/tokens", what_for="list")
        refused = await post(other, "/tokens/1/end")
        ended = await post(mine, "/tokens/1/end")
        page = await mine.get("/tokens")

    assert (refused.status_code, ended.status_code) == (404, 303)
    assert "None yet." in page.text
    with fleet.records.read() as connection:
        (token,) = tokens_of(connection, number)
    assert token.revoked_ms is not None


async def test_a_token_needs_a_purpose(fleet: Stock) -> None:
    """Without one the form is shown again with what is missing."""
    async with signed_in(fleet.app(), "owner") as client:
        refused = await post(client, "/tokens", what_for=" ")

    assert refused.status_code == 422
    assert "what the token is for" in refused.text
