"""A site joins over the web: what it is told, and how often it may try."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import msgspec
import pytest
from starlette.applications import Starlette

from dashboards.fleet.api import Api, api_routes
from firmware_bridge.fleet.identity.codes import new_code
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.sites_table import Joining
from firmware_bridge.fleet.identity.words import JOIN_PATH, Joined
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.forward.broker import MqttOptions
from tests.asking import Asking
from tests.fleet_broker import FleetBroker, fleet_broker
from tests.peers import free_port

pytestmark = [pytest.mark.peer, pytest.mark.xdist_group("fleet-broker")]

NOW = 1_800_000_000_000
SECRET = "s" * 43


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FleetBroker]:
    with fleet_broker(tmp_path_factory.mktemp("join") / "b") as found:
        yield found


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with open_records(f"sqlite:///{tmp_path / 'fleet.sqlite'}") as found:
        yield found


def _enrolling(records: Records, keeper: MqttOptions) -> Enrolling:
    joining = Joining(host="b", port=8883, tls=True, ca="", keeper=keeper, codes_ms=60_000)
    return Enrolling(records, joining, lambda: NOW)


def _asking(records: Records, enrolling: Enrolling | None, clock: list[float]) -> Asking:
    api = Api(records, now_ms=lambda: NOW, clock=lambda: clock[0], enrolling=enrolling)
    return Asking(Starlette(routes=api_routes(api)))


def _join(client: Asking, code: str, **more: str) -> httpx.Response:
    return client.post(JOIN_PATH, json={"code": code, "site": "a", "secret": SECRET} | more)


def test_a_code_is_redeemed_and_every_fault_has_its_words(
    broker: FleetBroker, records: Records
) -> None:
    """Mistyped 400, for another site 409, does not work 403, works 200 and again 200."""
    enrolling = _enrolling(records, broker.options("keeper"))
    code = enrolling.code("a")
    with _asking(records, enrolling, [0.0]) as client:
        assert "mistyped" in _join(client, code[:-1]).json()["detail"]
        assert _join(client, code, site="b").status_code == 409
        assert _join(client, code, secret="short").status_code == 400
        told = [_join(client, code.lower()) for _ in range(2)]
        assert [answer.status_code for answer in told] == [200, 200]
        joined = msgspec.json.decode(told[0].content, type=Joined)
        assert joined.site == "a"
        assert SECRET not in told[0].text
        other = _join(client, code, secret="o" * 43)
        never = _join(client, new_code())
        assert (other.status_code, other.text) == (never.status_code, never.text)
        assert never.status_code == 403
        assert client.get(JOIN_PATH).headers["allow"] == "POST"


def test_codes_cannot_be_tried_out(broker: FleetBroker, records: Records) -> None:
    """After five that do not work an address waits, also with one that does; others do not."""
    enrolling = _enrolling(records, broker.options("keeper"))
    code, clock = enrolling.code("a"), [0.0]
    with _asking(records, enrolling, clock) as client:
        for _ in range(5):
            assert _join(client, new_code()).status_code == 403
            assert _join(client, "x").status_code in (400, 429)
        refused = _join(client, code)
        assert refused.status_code == 429
        clock[0] += float(refused.headers["retry-after"])
        assert _join(client, code).status_code == 200
        assert _join(client, code).status_code == 200


def test_strangers_who_fail_make_nobody_else_wait(broker: FleetBroker, records: Records) -> None:
    """However many addresses fail, a site at another one joins."""
    enrolling = _enrolling(records, broker.options("keeper"))
    api = Api(records, now_ms=lambda: NOW, clock=lambda: 0.0, enrolling=enrolling)
    app = Starlette(routes=api_routes(api))
    for n in range(40):
        with Asking(app, base_url="https://fleet.example", peer=f"198.51.100.{n}") as client:
            assert _join(client, new_code()).status_code == 403
    with Asking(app, base_url="https://fleet.example", peer="203.0.113.9") as client:
        assert _join(client, enrolling.code("a")).status_code == 200


def test_joining_in_the_clear_or_without_a_table_is_refused(records: Records) -> None:
    """The secret is not taken over plain http from the network; no [sites], no joining."""
    api = Api(records, now_ms=lambda: NOW)
    app = Starlette(routes=api_routes(api))
    with Asking(app, base_url="http://fleet.example", peer="198.51.100.1") as client:
        assert _join(client, new_code()).status_code == 403
    with Asking(app) as client:
        assert "[sites]" in _join(client, new_code()).json()["detail"]


def test_a_broker_that_is_away_is_told_and_leaks_nothing(records: Records) -> None:
    """503 with when to come again; where the broker is stays the fleet's own affair."""
    enrolling = _enrolling(records, MqttOptions(host="127.0.0.1", port=free_port()))
    with _asking(records, enrolling, [0.0]) as client:
        answer = _join(client, enrolling.code("a"))
    assert answer.status_code == 503
    assert "127.0.0.1" not in answer.text
    assert answer.headers["retry-after"]
