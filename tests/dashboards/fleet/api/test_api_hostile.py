"""Hostile requests get a plain refusal, and nothing leaks by it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from starlette.applications import Starlette

from dashboards.access.rules import Rules
from dashboards.fleet.api import Api, api_routes
from dashboards.fleet.api.pace import Pace
from firmware_bridge.fleet.records import tables as t
from tests.asking import Asking
from tests.two_customers import NOW, Fleet

VISIT = {"site_no": 1, "day": "2027-02-01"}


def _problem(answer: object, status: int) -> str:
    assert answer.status_code == status, answer.text  # type: ignore[attr-defined]
    assert answer.headers["content-type"] == "application/problem+json"  # type: ignore[attr-defined]
    told = answer.json()  # type: ignore[attr-defined]
    assert told["status"] == status
    assert told["title"]
    return str(told.get("detail", ""))


def test_every_token_that_does_not_work_is_told_alike(client: Asking, fleet: Fleet) -> None:
    """None, nonsense, unknown, expired: 401, the same words, and how to send one."""
    text = fleet.tokens["owner"]
    headers = [
        {}, {"authorization": text}, {"authorization": f"Basic {text}"},
        {"authorization": "Bearer "}, {"authorization": f"Bearer {text[:-1]}"},
        {"authorization": f"Bearer {text} {text}"}, {"authorization": f"Bearer {'x' * 5000}"},
        {"authorization": "Bearer llt_' OR 1=1 --"}, fleet.bearing("owner before"),
    ]  # fmt: skip
    told = set()
    for given in headers:
        answer = client.get("/api/v1/sites", headers=given)
        told.add(_problem(answer, 401))
        assert answer.headers["www-authenticate"].startswith("Bearer")
    assert len(told) == 1


def test_a_revoked_token_and_an_ended_person_are_out_at_once(own_fleet: Fleet) -> None:
    """The next request is refused."""
    with Asking(own_fleet.app) as client:
        reads, changes = own_fleet.bearing("owner reads"), own_fleet.bearing("owner")
        assert client.get("/api/v1/me", headers=reads).json()["role"] == "owner"
        with own_fleet.records.begin() as connection:
            connection.execute(
                t.tokens.update().where(t.tokens.c.may_change.is_(False)).values(revoked_ms=NOW)
            )
        assert client.get("/api/v1/me", headers=reads).status_code == 401
        assert client.get("/api/v1/me", headers=changes).json()["may_change"] is True
        with own_fleet.records.begin() as connection:
            connection.execute(t.people.update().values(ended_ms=NOW))
        assert client.get("/api/v1/me", headers=changes).status_code == 401


@pytest.mark.parametrize(
    "query",
    [
        "limit=0", "limit=501", "limit=x", "limit=1&limit=2", "limit=", "nothing=1", "after=%FF",
        "after=AAAA", "after=WzFd", "after=WyJhIiwxXQ", "after=W1tdXQ", "after=" + "W" * 500,
        "after=WzEsMiwzXQ", "after=Wzk5OTk5OTk5OTk5OTk5OTk5OTk5OTld", "after=W3RydWVd",
        "text=%00", "text=%1b[31m", "text=" + "x" * 201, "site_no=-1", "site_no=1.5",
        "priority=%ED%A0%80",
    ],
)  # fmt: skip
def test_a_query_that_makes_no_sense_is_refused(client: Asking, fleet: Fleet, query: str) -> None:
    """Numbers out of range, forged cursors, doubled or unknown names, bytes that are no text."""
    if query == "after=WzFd":  # a sound cursor of a list with one number, not of alarms
        assert client.get(f"/api/v1/sites?{query}", headers=fleet.bearing("owner")).is_success
    _problem(client.get(f"/api/v1/alarms?{query}", headers=fleet.bearing("owner")), 400)


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"", "application/json", 400),
        (b"{}", "application/json", 400),
        (b"[" * 10_000, "application/json", 400),
        (b'{"a":' * 2_500, "application/json", 400),
        (b"{" + b" " * 20_000 + b"}", "application/json", 413),
        (b"\xff\xfe", "application/json", 400),
        (json.dumps(VISIT).encode(), "text/plain", 415),
        (json.dumps(VISIT | {"site_no": "1"}).encode(), "application/json", 400),
        (json.dumps(VISIT | {"site_no": 10**40}).encode(), "application/json", 400),
        (json.dumps(VISIT | {"more": 1}).encode(), "application/json", 400),
        (json.dumps(VISIT | {"note": "a\x00b"}).encode(), "application/json", 400),
        (json.dumps(VISIT | {"note": "\ud800"}).encode(), "application/json", 400),
        (json.dumps(VISIT | {"day": "2027-02-30"}).encode(), "application/json", 409),
        (json.dumps(VISIT | {"line": "none"}).encode(), "application/json", 409),
    ],
)
def test_a_body_that_makes_no_sense_is_refused(
    client: Asking, fleet: Fleet, body: bytes, kind: str, status: int
) -> None:
    """Huge, deep, broken, of another kind, or against the rules of the struct."""
    headers = fleet.bearing("owner") | {"content-type": kind}
    _problem(client.post("/api/v1/visits", content=body, headers=headers), status)


def test_other_methods_and_addresses_are_told(client: Asking, fleet: Fleet) -> None:
    """405 names the methods there are, 404 is a problem too, and neither needs a token."""
    for path, method, allow in (
        ("/api/v1/sites", "DELETE", "GET, HEAD"), ("/api/v1/sites", "TRACE", "GET, HEAD"),
        ("/api/v1/visits", "PUT", "GET, HEAD, POST"), ("/api/v1/sites/1/tags", "GET", "PUT"),
        ("/api/v1/openapi.json", "POST", "GET, HEAD"),
    ):  # fmt: skip
        answer = client.request(method, path)
        _problem(answer, 405)
        assert answer.headers["allow"] == allow
    for path in ("/api/v1/nothing", "/api/v1/sites/x", "/api/v1/sites/1/", "/api/v1/sites/1%2F2"):
        _problem(client.get(path, headers=fleet.bearing("owner")), 404)


def test_a_long_query_is_refused(client: Asking, fleet: Fleet) -> None:
    """Before it is read."""
    query = "text=" + "x" * 13_000
    _problem(client.get(f"/api/v1/sites?{query}", headers=fleet.bearing("owner")), 414)


def test_a_token_that_asks_too_fast_has_to_wait(own_fleet: Fleet) -> None:
    """A burst passes, then 429 says when; other tokens go on."""
    now = [0.0]
    pace = Pace(lambda: now[0], burst=3.0, a_second=1.0)
    api = Api(own_fleet.records, rules=Rules(in_clear=True), now_ms=lambda: NOW, pace=pace)
    with Asking(Starlette(routes=api_routes(api))) as client:
        mine, other = own_fleet.bearing("owner"), own_fleet.bearing("customer")
        told = [client.get("/api/v1/me", headers=mine) for _ in range(4)]
        assert [answer.status_code for answer in told] == [200, 200, 200, 429]
        assert told[-1].headers["retry-after"] == "1"
        assert client.get("/api/v1/me", headers=other).is_success
        now[0] = 1.0
        assert client.get("/api/v1/me", headers=mine).is_success
        assert client.get("/api/v1/parts", headers=mine).headers["retry-after"] == "20"


def test_a_token_in_the_clear_over_the_network_is_refused(own_fleet: Fleet) -> None:
    """Only https, this machine itself, or a sentence in the fleet file lets it through."""
    api = Api(own_fleet.records, now_ms=lambda: NOW)
    app, headers = Starlette(routes=api_routes(api)), own_fleet.bearing("owner")
    asked = {
        ("http://fleet.example", "198.51.100.7"): 403,
        ("https://fleet.example", "198.51.100.7"): 200,
        ("http://127.0.0.1", "127.0.0.1"): 200,
        ("http://fleet.example", "127.0.0.1"): 403,
    }
    for (base, peer), status in asked.items():
        with Asking(app, base_url=base, peer=peer) as client:
            assert client.get("/api/v1/me", headers=headers).status_code == status
    forwarded = headers | {"x-forwarded-proto": "https"}
    with Asking(app, base_url="http://fleet.example", peer="198.51.100.7") as client:
        assert client.get("/api/v1/me", headers=forwarded).status_code == 403


def test_records_that_are_away_are_told_as_that(own_fleet: Fleet, tmp_path: Path) -> None:
    """503 with when to come again; nothing of the database is said."""
    with own_fleet.records.begin() as connection:
        t.tokens.drop(connection)
    with Asking(own_fleet.app) as client:
        answer = client.get("/api/v1/me", headers=own_fleet.bearing("owner"))
    assert "tokens" not in _problem(answer, 503)
    assert answer.headers["retry-after"]
