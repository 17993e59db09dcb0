"""One site says a thousand things a second; it is shut out, and nobody else is the worse for it."""

from __future__ import annotations

from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from firmware_bridge.fleet.ingest.gate import Allowance
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.worker import Worker, WorkerPace
from firmware_bridge.fleet.records.engine import open_records
from firmware_bridge.fleet.records.tables import aside, doubts, sites
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.sink import SiteCard
from firmware_bridge.forward.sinks import mqtt
from tests import peers
from tests.firmware_bridge.fleet.sites_speak import PREFIX, all_of, kept
from tests.firmware_bridge.fleet.sites_speak import card as introduced
from tests.firmware_bridge.forward.outbox import ListOutbox, forwarder, readings, running, until
from tests.stream_faults import options

TIGHT = WorkerPace(
    wait_s=0.05, linger_s=0.02, look_s=0.1, gap_wait_s=0.3, ask_every_s=0.3,
    allowance=Allowance(a_second=100.0, at_once=300.0, shut_s=600.0),
)  # fmt: skip


def shout(port: int, messages: int) -> None:
    """A site that makes up a topic for every message."""
    client = Client(CallbackAPIVersion.VERSION2, client_id="loud")
    client.connect("127.0.0.1", port)
    client.loop_start()
    (card,) = introduced("loud")
    client.publish(card.topic, card.payload, 1).wait_for_publish(peers.PATIENCE_S)
    for number in range(messages):
        client.publish(f"{PREFIX}/v1/loud/line-{number}/readings", b"{}" * 50, 0)
    client.publish(f"{PREFIX}/v1/loud/end/readings", b"{}", 1).wait_for_publish(peers.PATIENCE_S)
    client.disconnect()
    client.loop_stop()


@pytest.mark.peer
@pytest.mark.timeout(60)
async def test_flooding_site_is_shut_out_and_others_go_on(tmp_path: Path) -> None:
    """What it says is bounded, it stands among the doubts, the other's rows are all confirmed."""
    with (
        peers.broker(tmp_path / "broker") as broker,
        open_records(f"sqlite:///{tmp_path / 'fleet.sqlite'}") as records,
    ):
        keeper = Keeper(records, PREFIX, adopt_newcomers=True)
        where = MqttOptions(host="127.0.0.1", port=broker.port)
        with Worker(records, where, "tests", keeper, pace=TIGHT) as worker:
            await until("the worker", worker.connected.is_set)
            calm, card = ListOutbox(), SiteCard(site_id="calm", name="Calm")
            async with running(forwarder(mqtt.SINK, options(broker.port), calm, card=card)):
                calm.add(readings(1, 300))
                shout(broker.port, 3000)
                calm.add(readings(301, 600))
                await until("confirmation", lambda: calm.cursor("mqtt") == 600)
                await until(
                    "the doubt", lambda: "flooding" in {d["doubt"] for d in all_of(records, doubts)}
                )
        assert sorted(kept(records, "calm")) == list(range(1, 601))
        assert len(all_of(records, aside)) <= 300
        loud = next(site for site in all_of(records, sites) if site["site"] == "loud")
        assert loud["muted_until_ms"] is not None
