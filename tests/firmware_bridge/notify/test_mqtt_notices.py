"""Notices over a real MQTT broker."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analytics.errors import SinkError
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.notify.channels.mqtt import NOTIFIER
from firmware_bridge.notify.notice import MessageJson
from tests import peers
from tests.firmware_bridge.forward.outbox import Listener
from tests.firmware_bridge.notify.told import message

pytestmark = pytest.mark.peer


def test_a_message_is_published_below_the_site(tmp_path: Path) -> None:
    """One JSON message; tried twice it has one key."""
    with peers.broker(tmp_path / "broker") as server:
        options = MqttOptions(host="127.0.0.1", port=server.port, answer_s=5.0)
        notifier = NOTIFIER.open(options, "harbour-steps")
        with Listener(server.port) as listener:
            notifier.send(message())
            notifier.send(message())
            peers.eventually("both to be heard", lambda: len(listener.heard("/notices")) == 2)
            heard = listener.heard("/notices")
        notifier.close()

    found = [msgspec.json.decode(body, type=MessageJson) for _, body in heard]
    assert {topic for topic, _ in heard} == {"lastlitre/v1/harbour-steps/notices"}
    assert found[0].key == found[1].key == message().key


def test_broker_that_is_away_is_tried_again_and_one_that_forbids_is_not(tmp_path: Path) -> None:
    """No connection passes; a closed door is for a person to mend."""
    away = MqttOptions(host="127.0.0.1", port=peers.free_port(), answer_s=5.0)
    with pytest.raises(SinkError) as gone:
        NOTIFIER.open(away, "harbour-steps").send(message())
    passwords = peers.password_file(tmp_path, "bar", "open sesame")
    settings = ("allow_anonymous false", f"password_file {passwords}")
    with peers.broker(tmp_path / "broker", *settings) as server:
        options = MqttOptions(host="127.0.0.1", port=server.port, answer_s=5.0)
        with pytest.raises(SinkError) as shut:
            NOTIFIER.open(options, "harbour-steps").send(message())

    assert gone.value.retryable
    assert not shut.value.retryable
