"""Real servers for the sinks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.receiver.receiver import Receiver
from tests import peers
from tests.receiving import KEEN


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[peers.Broker]:
    """A broker that remembers sessions and queues across a restart."""
    settings = ("persistence true", "max_queued_messages 0")
    with peers.broker(tmp_path / "broker", *settings) as server:
        yield server


@pytest.fixture
def store(tmp_path: Path) -> Iterator[peers.TimeSeriesStore]:
    """A time-series store that keeps one sample of a series and instant."""
    with peers.time_series_store(tmp_path / "series") as server:
        yield server


@pytest.fixture
def receiver(broker: peers.Broker, tmp_path: Path) -> Iterator[Receiver]:
    """A receiver on the broker, with a file of its own."""
    options = MqttOptions(host="127.0.0.1", port=broker.port)
    with Receiver(options, tmp_path / "receiver.db", pace=KEEN) as at_work:
        yield at_work
