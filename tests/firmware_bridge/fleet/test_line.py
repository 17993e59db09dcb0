"""The worker's line to the broker: everything through TLS, refusals named, silence noticed."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from analytics.errors import LinkError
from firmware_bridge.fleet.ingest.line import Line
from firmware_bridge.forward.broker import MqttOptions, new_client
from firmware_bridge.receiver.words import Incoming
from firmware_bridge.secrets import Secret
from tests import peers
from tests.firmware_bridge.fleet.sites_speak import card, said, summary
from tests.firmware_bridge.forward.outbox import reading, readings


def everybody(topic: str) -> bool:
    """Nobody is shut out."""
    return True


def publish(options: MqttOptions, messages: list[Incoming], retain: bool = False) -> None:
    """A site says something."""
    client = new_client(options, "site")
    client.connect(options.host, options.port)
    client.loop_start()
    for message in messages:
        client.publish(message.topic, message.payload, 1, retain)
    client.publish("elsewhere", b"", 1).wait_for_publish(peers.PATIENCE_S)
    client.disconnect()
    client.loop_stop()


def gathered(line: Line, wanted: int) -> list[Incoming]:
    """Messages until there are so many."""
    found: list[Incoming] = []

    def enough() -> bool:
        found.extend(line.gather(1000, 0.1, 0.02))
        return len(found) >= wanted

    peers.eventually(f"{wanted} messages", enough)
    return found


@pytest.mark.peer
def test_every_message_comes_through_tls(tmp_path: Path) -> None:
    """What lies decrypted in memory is read too, not only what the socket shows."""
    with peers.broker(tmp_path / "broker", tls=True) as broker:
        where = MqttOptions(host="localhost", port=broker.port, tls=True, ca_file=broker.ca_file)
        coming = said(readings(1, 30_000))
        with Line(where, "worker", "group", everybody) as line:
            publish(where, coming)
            found = gathered(line, len(coming))
    assert sorted(found, key=lambda m: m.payload) == sorted(coming, key=lambda m: m.payload)


@pytest.mark.peer
def test_what_the_broker_keeps_is_told_at_once(tmp_path: Path) -> None:
    """Cards and summaries of sites that are silent now; a shared subscription never brings them."""
    with peers.broker(tmp_path / "broker") as broker:
        where = MqttOptions(host="127.0.0.1", port=broker.port)
        publish(where, [*card(), *summary(reading(5))], retain=True)
        with Line(where, "worker", "group", everybody) as line:
            found = gathered(line, 2)
    assert {message.topic.rsplit("/", 1)[1] for message in found} == {"card", "now"}


@pytest.mark.peer
def test_broker_that_lets_nobody_in_is_named(tmp_path: Path) -> None:
    """Its own words are in the fault."""
    folder = tmp_path / "broker"
    folder.mkdir()
    words = f"password_file {peers.password_file(folder, 'fleet', 'right')}"
    with peers.broker(folder, words, "allow_anonymous false") as broker:
        where = MqttOptions(
            host="127.0.0.1", port=broker.port, user="fleet", password=Secret("wrong")
        )
        with pytest.raises(LinkError, match="lets nobody in"), Line(where, "w", "g", everybody):
            pass


def test_port_that_says_nothing_is_noticed() -> None:
    """Something listens there, but it is no broker."""
    with socket.create_server(("127.0.0.1", 0)) as mute:
        where = MqttOptions(host="127.0.0.1", port=mute.getsockname()[1], answer_s=0.3)
        with pytest.raises(LinkError, match="said nothing"), Line(where, "w", "g", everybody):
            pass
    with pytest.raises(LinkError, match="cannot be reached"), Line(where, "w", "g", everybody):
        pass


@pytest.mark.peer
def test_broker_that_goes_away_ends_the_line(tmp_path: Path) -> None:
    """The worker hears of it and begins anew."""
    with peers.broker(tmp_path / "broker") as broker:
        where = MqttOptions(host="127.0.0.1", port=broker.port)
        with Line(where, "worker", "group", everybody) as line:
            broker.kill()

            def ended() -> bool:
                try:
                    line.gather(10, 0.1, 0.02)
                except LinkError:
                    return True
                return False

            peers.eventually("the line to end", ended)
