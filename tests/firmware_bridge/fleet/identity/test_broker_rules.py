"""Nobody reads or writes at the broker what is not theirs; tried with a real Mosquitto."""

from __future__ import annotations

import stat
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from analytics.errors import LinkError
from firmware_bridge.fleet.identity.broker_folder import BrokerPlan, write_broker
from firmware_bridge.fleet.identity.keeper import Keeper, Login
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import topic
from tests.fleet_broker import PREFIX, Anybody, FleetBroker, fleet_broker
from tests.peers import free_port

pytestmark = [pytest.mark.peer, pytest.mark.xdist_group("fleet-broker")]

SITES = ("harbour-steps", "a+b/c#", "ca/../fé %", "café ☕", "$SYS", "+", "#")
"""Names of sites, kind and unkind."""
LOGINS = {
    site: Login(login=f"site-{n}", site=site, secret=f"s{n}" * 20) for n, site in enumerate(SITES)
}
MINE, OTHER = LOGINS["harbour-steps"], LOGINS["a+b/c#"]


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FleetBroker]:
    with fleet_broker(tmp_path_factory.mktemp("broker") / "b", *LOGINS.values()) as found:
        yield found


def _in(broker: FleetBroker, who: Login, **more: object) -> Anybody:
    return Anybody(broker, who.login, who.secret, **more)  # type: ignore[arg-type]


def _worker(broker: FleetBroker) -> Anybody:
    secret = (broker.folder / "worker.secret").read_text().strip()
    return Anybody(broker, "worker", secret, client_id="worker-1")


@pytest.mark.parametrize("site", SITES)
def test_a_site_says_its_own_and_hears_its_receiver(broker: FleetBroker, site: str) -> None:
    """Whatever a site is called, its messages reach the workers and the workers' words reach it."""
    who = LOGINS[site]
    with _worker(broker) as worker, _in(broker, who) as box:
        assert worker.may_read(f"$share/ingest/{PREFIX}/v1/+/#")
        assert box.may_read(topic(PREFIX, site, "durable"))
        assert box.may_read(topic(PREFIX, site, "wanted"))
        for levels in (("card",), ("online",), ("gone",), ("bär #1", "readings"), ("-", "now")):
            assert box.may_write(topic(PREFIX, site, *levels), b"said")
            assert worker.until_got(topic(PREFIX, site, *levels)) == b"said"
        newer = topic(PREFIX, site, "card").replace("/v1/", "/v2/")
        assert worker.may_read(f"$share/ingest/{PREFIX}/+/+/#")
        assert box.may_write(newer, b"newer")
        assert worker.until_got(newer) == b"newer"
        assert worker.may_write(topic(PREFIX, site, "durable"), b"7")
        assert box.until_got(topic(PREFIX, site, "durable")) == b"7"


def _foreign() -> list[str]:
    """Filters a site has no business with: all, others', the broker's own, its own rows."""
    theirs = [topic(PREFIX, site) for site in SITES if site != MINE.site]
    mine = topic(PREFIX, MINE.site)
    plain = [
        "#", "+", "+/#", "/#", "+/+/#", f"{PREFIX}/#", f"{PREFIX}/v1/#", f"{PREFIX}/v1/+/durable",
        f"{PREFIX}/v1/+/#", f"{PREFIX}/+/+/durable", f"{PREFIX}/+/{MINE.site}/#",
        f"{PREFIX}/+/{MINE.site}/+", f"{mine}/#", f"{mine}/+", f"{mine}/card", f"{mine}/bar/now",
        *(f"{other}/{name}" for other in theirs for name in ("#", "card", "durable", "wanted")),
        f"{PREFIX}/v1/A%2BB%2FC%23/durable", f"{PREFIX}//v1/#",
    ]  # fmt: skip
    shared = [f"$share/ingest/{name}" for name in (*plain[2:], f"{mine}/durable")]
    return [*plain, *shared, "$SYS/#", "$SYS/broker/uptime", "$CONTROL/#",
            "$CONTROL/dynamic-security/v1/response", "$share/x/$CONTROL/#"]  # fmt: skip


@pytest.mark.parametrize("v5", [True, False])
def test_a_site_reads_nothing_but_its_receivers_words(broker: FleetBroker, v5: bool) -> None:
    """No filter is granted, and of all that is said to others and kept, nothing arrives."""
    with _worker(broker) as worker, _in(broker, OTHER) as other, _in(broker, MINE, v5=v5) as spy:
        assert other.may_write(topic(PREFIX, OTHER.site, "card"), b"kept", retain=True)
        assert [name for name in _foreign() if spy.may_read(name)] == []

        assert other.may_write(topic(PREFIX, OTHER.site, "bar", "readings"), b"secret")
        assert worker.may_write(topic(PREFIX, OTHER.site, "durable"), b"9", retain=True)
        own = topic(PREFIX, MINE.site, "durable")
        assert spy.may_read(own)
        assert worker.may_write(own, b"mine")
        assert spy.until_got(own)
        assert {name for name, _ in spy.got} == {own}


@pytest.mark.parametrize("v5", [True, False])
def test_a_site_writes_nowhere_but_below_itself(broker: FleetBroker, v5: bool) -> None:
    """Neither others' topics nor the receiver's words nor the plugin's, with or without answer."""
    theirs, mine = topic(PREFIX, OTHER.site), topic(PREFIX, MINE.site)
    forbidden = [
        f"{theirs}/card", f"{theirs}/online", f"{theirs}/bar/readings", f"{theirs}/durable",
        f"{mine}/durable", f"{mine}/wanted", mine, f"{mine}/a/b/c", f"{PREFIX}/v1/new/card",
        f"{theirs}/card".replace("/v1/", "/v2/"), "anything", "$SYS/broker/uptime",
        "$CONTROL/dynamic-security/v1", f"$share/ingest/{theirs}/card",
    ]  # fmt: skip
    with _worker(broker) as worker, _in(broker, MINE, v5=v5) as hostile:
        assert worker.may_read(f"{PREFIX}/v1/#")
        for name in forbidden:
            assert hostile.may_write(name, b"forged", retain=True) is not v5
            hostile.write_unasked(name)
        assert hostile.may_write(f"{mine}/bar/now", b"own")
        worker.until_got(f"{mine}/bar/now")
        assert b"forged" not in {payload for _, payload in worker.got}


def test_a_will_for_another_site_is_not_executed(broker: FleetBroker) -> None:
    """A box that vanishes cannot have the broker say something in another's name."""
    theirs, mine = topic(PREFIX, OTHER.site, "online"), topic(PREFIX, MINE.site, "online")
    with _worker(broker) as worker:
        assert worker.may_read(f"{PREFIX}/v1/+/online")
        _in(broker, MINE, will=theirs).vanish()
        _in(broker, LOGINS["+"], will=topic(PREFIX, "+", "online")).vanish()
        worker.until_got(topic(PREFIX, "+", "online"))
        _in(broker, MINE, will=mine).vanish()
        worker.until_got(mine)
        assert theirs not in {name for name, _ in worker.got}


def test_nobody_takes_anothers_name_or_session(broker: FleetBroker) -> None:
    """A login has one name at the broker, so nobody throws another out or reads its queue."""
    with _in(broker, OTHER, stays_s=600) as other:
        assert other.may_read(topic(PREFIX, OTHER.site, "durable"))
        for name in (OTHER.login, "worker-1", "keeper", "anybody"):
            with _in(broker, MINE, client_id=name) as thief:
                assert not thief.let_in
        assert other.may_write(topic(PREFIX, OTHER.site, "card"))
        assert not other.ended


def test_who_has_no_login_gets_nothing(broker: FleetBroker) -> None:
    """No name, an unknown one, a wrong secret: none is let in, and all are told the same."""
    for login, secret in (("", ""), ("nobody", "x"), (MINE.login, "wrong"), (MINE.login, "")):
        with Anybody(broker, login, secret) as stranger:
            assert not stranger.let_in


def test_a_worker_forges_no_site(broker: FleetBroker) -> None:
    """Workers read what sites say; they say nothing in a site's name and reach no access list."""
    with _worker(broker) as worker:
        assert worker.may_read(f"$share/ingest/{PREFIX}/+/+/#")
        assert worker.may_read(f"{PREFIX}/v1/+/+/now")
        for levels in ((MINE.site, "card"), (MINE.site, "bar", "now"), (MINE.site,)):
            assert not worker.may_write(topic(PREFIX, *levels))
        assert not worker.may_write("$CONTROL/dynamic-security/v1", b"{}")
        for name in ("#", "$SYS/#", "$CONTROL/#", "$share/ingest/#"):
            assert not worker.may_read(name)


def test_the_keeper_makes_and_removes_logins_at_once(broker: FleetBroker) -> None:
    """A login works when it is made, made again with another secret too; removed, it is cut."""
    keeper = broker.keeper()
    first = Login(login="site-new", site="new/site", secret="one" * 12)
    second = Login(login="site-new", site="new/site", secret="two" * 12)
    keeper.put(first)
    keeper.put(first)
    keeper.put(second)

    with _in(broker, first) as box:
        assert not box.let_in
    with _in(broker, second) as box:
        assert box.may_write(topic(PREFIX, "new/site", "card"))
        keeper.remove(second.login)
        box.until_cut()
    with _in(broker, second) as box:
        assert not box.let_in
    keeper.remove(second.login)


def test_a_keeper_without_broker_or_rights_says_so(broker: FleetBroker) -> None:
    """A broker that is away, a wrong secret and a login without the right are told apart."""
    with pytest.raises(LinkError, match="cannot be reached"):
        Keeper(MqttOptions(host="127.0.0.1", port=free_port())).remove("x")
    with pytest.raises(LinkError, match="lets nobody in"):
        Keeper(broker.options_of("keeper", "wrong")).remove("x")
    with pytest.raises(LinkError, match="does not let us read"):
        Keeper(broker.options("worker")).remove("x")


def test_logins_outlive_a_power_cut_of_the_broker(tmp_path: Path) -> None:
    """What the keeper made is there again after a kill, and its file stays closed to others."""
    with fleet_broker(tmp_path / "b") as broker:
        broker.keeper().put(MINE)
        broker.server.kill()
        broker.server.start()
        with _in(broker, MINE) as box:
            assert box.let_in
        mode = (broker.folder / "dynamic-security.json").stat().st_mode
        assert not mode & (stat.S_IRWXG | stat.S_IRWXO)


def test_the_folder_is_written_anew_without_losing_a_login(tmp_path: Path) -> None:
    """Settings follow the plan; logins and secrets of the first time stay; secrets are closed."""
    folder = tmp_path / "b"
    assert write_broker(folder, BrokerPlan(local_port=1))
    secrets = {path: path.read_bytes() for path in folder.glob("*.secret")}
    assert not write_broker(folder, BrokerPlan(local_port=2, cert_file="/c.pem", key_file="/k"))

    settings = (folder / "mosquitto.conf").read_text()
    assert "listener 2 127.0.0.1" in settings
    assert "\nlistener 8883" in settings
    assert {path: path.read_bytes() for path in folder.glob("*.secret")} == secrets
    assert len(set(secrets.values())) == 2
    for path in (*secrets, folder / "dynamic-security.json"):
        assert not path.stat().st_mode & 0o077
    listed = subprocess.run(["grep", "-rlF", *_all(secrets)], cwd=folder, capture_output=True)
    assert len(listed.stdout.split()) == 2  # each secret stands in its own file only


def _all(secrets: dict[Path, bytes]) -> list[str]:
    return [part for value in secrets.values() for part in ("-e", value.decode().strip())] + ["."]
