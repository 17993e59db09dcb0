"""Enrolment with records and a real broker: a box joins, another takes over, all are cut off."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import select

from analytics.errors import LinkError
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.enrolment import CodeRefused, active_of, waits_until
from firmware_bridge.fleet.identity.sites_table import Joining
from firmware_bridge.fleet.identity.words import Claim, Joined
from firmware_bridge.fleet.records import audit_rows
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import held, sites
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import topic
from tests.fleet_broker import PREFIX, Anybody, FleetBroker, fleet_broker
from tests.peers import free_port

pytestmark = [pytest.mark.peer, pytest.mark.xdist_group("fleet-broker")]

NOW = 1_800_000_000_000
SITE = "harbour-steps"
FIRST, SECOND = "1" * 43, "2" * 43


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FleetBroker]:
    with fleet_broker(tmp_path_factory.mktemp("enrolling") / "b") as found:
        yield found


def _enrolling(records: Records, keeper: MqttOptions) -> Enrolling:
    joining = Joining(
        host="broker.example", port=8883, tls=True, ca="PEM", keeper=keeper, codes_ms=60_000
    )
    return Enrolling(records, joining, lambda: NOW)


def _in(broker: FleetBroker, joined: Joined, secret: str) -> Anybody:
    return Anybody(broker, joined.login, secret)


def _claim(code: str, secret: str) -> Claim:
    return Claim(code=code, site=SITE, secret=secret)


def test_a_box_joins_another_takes_over_and_all_are_cut(
    broker: FleetBroker, records: Records
) -> None:
    """From the code to the end, at the broker and in the records, and every act is kept."""
    enrolling = _enrolling(records, broker.options("keeper"))
    code = enrolling.code(SITE)
    joined = enrolling.join(_claim(code, FIRST))

    assert (joined.host, joined.port, joined.tls, joined.ca) == (
        "broker.example",
        8883,
        True,
        "PEM",
    )
    assert enrolling.join(_claim(code, FIRST)) == joined
    with records.read() as connection:
        (found,) = connection.execute(select(sites)).mappings().all()
        assert (found["site"], found["state"]) == (SITE, "adopted")
        assert connection.execute(select(held.c.site_no)).scalars().all() == [found["site_no"]]

    with _in(broker, joined, FIRST) as box:
        assert box.may_write(topic(joined.topic_prefix, SITE, "card"))
        taken = enrolling.join(_claim(enrolling.code(SITE), SECOND))
        box.until_cut()
    with _in(broker, joined, FIRST) as old, _in(broker, taken, SECOND) as new:
        assert not old.let_in
        assert new.may_write(topic(PREFIX, SITE, "card"))
        assert [identity.login for identity in enrolling.revoke(SITE)] == [taken.login]
        new.until_cut()
    with _in(broker, taken, SECOND) as box:
        assert not box.let_in
    assert enrolling.revoke(SITE) == []
    with records.read() as connection:
        acts = list(audit_rows.every(connection))
    assert [act.act for act in acts] == [
        "site.code", "site.joined", "site.joined", "site.code", "site.revoked", "site.joined",
        "site.revoked",
    ]  # fmt: skip
    assert not any(FIRST in act.body or code in act.body for act in acts)


def test_a_code_that_waits_is_withdrawn_with_the_login(
    broker: FleetBroker, records: Records
) -> None:
    """It is known until when it works; withdrawn it does not, and that is kept."""
    enrolling = _enrolling(records, broker.options("keeper"))
    code = enrolling.code(SITE)
    with records.read() as connection:
        assert waits_until(connection, SITE, NOW) == NOW + 60_000
    assert enrolling.revoke(SITE) == []

    with pytest.raises(CodeRefused):
        enrolling.join(_claim(code, FIRST))
    with records.read() as connection:
        assert waits_until(connection, SITE, NOW) is None
        acts = [act.act for act in audit_rows.every(connection)]
    assert acts == ["site.code", "site.code-withdrawn"]


def test_a_code_that_was_used_does_not_undo_a_revocation(
    broker: FleetBroker, records: Records
) -> None:
    """The box that used it asks again, and is refused."""
    enrolling = _enrolling(records, broker.options("keeper"))
    code = enrolling.code(SITE)
    enrolling.join(_claim(code, FIRST))
    enrolling.revoke(SITE)

    with pytest.raises(CodeRefused):
        enrolling.join(_claim(code, FIRST))


def test_a_broker_that_is_away_costs_a_second_try_only(
    broker: FleetBroker, records: Records, tmp_path: Path
) -> None:
    """The code stays good for the box that showed it, and a revocation is still to be done."""
    away = _enrolling(records, MqttOptions(host="127.0.0.1", port=free_port()))
    here = _enrolling(records, broker.options("keeper"))
    code = here.code(SITE)
    with pytest.raises(LinkError):
        away.join(_claim(code, FIRST))
    with pytest.raises(CodeRefused):
        here.join(_claim(code, SECOND))
    joined = here.join(_claim(code, FIRST))

    with _in(broker, joined, FIRST) as box:
        assert box.let_in
        with pytest.raises(LinkError):
            away.revoke(SITE)
        with records.read() as connection:
            assert [one.login for one in active_of(connection, SITE)] == [joined.login]
        here.revoke(SITE)
        box.until_cut()
