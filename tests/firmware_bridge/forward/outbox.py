"""A store's way out kept in a list, a subscriber that keeps what it hears, and rows to send."""

from __future__ import annotations

import asyncio
import json
import random
import threading
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, Self

import msgspec
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from firmware_bridge.forward.confirming import Patience
from firmware_bridge.forward.payloads import Batch
from firmware_bridge.forward.runner import Forwarder, Pace
from firmware_bridge.forward.sink import Parcel, Sink, SiteCard
from firmware_bridge.store.out_row import OutRow
from tests.peers import PATIENCE_S

START_MS = 1_767_225_600_000
"""2026-01-01."""

BRISK = Pace(
    poll_s=0.02, linger_s=0.0, now_every_s=0.1, first_wait_s=0.05, longest_wait_s=0.2,
    mend_wait_s=0.2, stop_s=5.0,
)  # fmt: skip

EAGER = Patience(first_s=1.0, longest_s=2.0, reconnected_s=0.3, request_every_s=0.1)
"""Rows that nobody confirms are sent again soon."""

CARD = SiteCard(site_id="harbour-steps", name="Harbour Steps", service="Northgate Water Care")


def reading(seq: int, line_id: str = "bar", **numbers: float) -> OutRow:
    """A reading a second."""
    given = numbers or {"outlet_us_cm": 400.0 + seq % 97, "outlet_temp_c": 19.0 + seq % 7 / 8}
    return OutRow(
        seq=seq, at_ms=START_MS + seq * 1000, kind="reading", line_id=line_id, numbers=given
    )


def readings(first: int, last: int, line_id: str = "bar") -> list[OutRow]:
    """Readings numbered `first` to `last`."""
    return [reading(seq, line_id) for seq in range(first, last + 1)]


def row(seq: int, kind: str, words: dict[str, str] | None = None, **numbers: float) -> OutRow:
    """A row of any kind."""
    return OutRow(
        seq=seq, at_ms=START_MS + seq * 1000, kind=kind, line_id="bar", numbers=numbers,
        words=words or {},
    )  # fmt: skip


def parcel(rows: Sequence[OutRow], again: bool = False) -> Parcel:
    """Rows as a sink gets them; there is nothing between them."""
    return Parcel(after=rows[0].seq - 1, up_to=rows[-1].seq, rows=tuple(rows), again=again)


class ListOutbox:
    """An Outbox in memory; with a file, its cursors and set-aside rows outlive the process."""

    def __init__(self, rows: Sequence[OutRow] = (), path: Path | None = None) -> None:
        self._lock = threading.Lock()
        self._rows = list(rows)
        self._path = path
        self.cursors: dict[str, int] = {}
        self.aside: dict[int, str] = {}
        if path is not None and path.exists():
            kept = json.loads(path.read_text())
            self.cursors = kept["cursors"]
            self.aside = {int(seq): why for seq, why in kept["aside"].items()}

    def add(self, rows: Sequence[OutRow]) -> None:
        """Store further rows."""
        with self._lock:
            self._rows += rows

    def read(self, after_seq: int, limit: int) -> list[OutRow]:
        """See `Outbox.read`; rows are numbered from 1 without gaps."""
        with self._lock:
            return self._rows[after_seq : after_seq + limit]

    def cursor(self, sink: str) -> int:
        """See `Outbox.cursor`."""
        return self.cursors.get(sink, 0)

    def settle(self, sink: str, up_to_seq: int, rejected: dict[int, str]) -> None:
        """See `Outbox.settle`."""
        with self._lock:
            self.cursors[sink] = up_to_seq
            self.aside |= rejected
            if self._path is not None:
                kept = {"cursors": self.cursors, "aside": self.aside}
                self._path.write_text(json.dumps(kept))

    def newest(self) -> int:
        """See `Outbox.newest`."""
        with self._lock:
            return len(self._rows)


def now_ms() -> int:
    """The clock of the tests' rows: a day after the last of them at most."""
    return START_MS + 86_400_000


def forwarder(
    sink: Sink, options: msgspec.Struct, outbox: Any, pace: Pace = BRISK, card: SiteCard = CARD
) -> Forwarder:
    """A forwarder for tests: brisk, and with a fixed chance."""
    return Forwarder(
        name=sink.name, sink=sink, options=options, card=card, outbox=outbox, now_ms=now_ms,
        rng=random.Random(1), pace=pace,
    )  # fmt: skip


@asynccontextmanager
async def running(task: Forwarder) -> AsyncIterator[Forwarder]:
    """The forwarder at work; stopped at the end."""
    stop = asyncio.Event()
    work = asyncio.create_task(task.run(stop))
    try:
        yield task
    finally:
        stop.set()
        await work


async def until(what: str, true: Callable[[], Any], patience_s: float = PATIENCE_S) -> Any:
    """Wait without blocking the loop until `true()` gives something true, and return it."""
    end = time.monotonic() + patience_s
    while not (found := await asyncio.to_thread(true)):
        if time.monotonic() > end:
            raise AssertionError(f"waited {patience_s:g} s in vain: {what}")
        await asyncio.sleep(0.02)
    return found


class Listener:
    """A subscriber with a session that outlives its connection; it keeps all it hears."""

    def __init__(self, port: int, topic: str = "lastlitre/#", name: str = "listener") -> None:
        self._topic = topic
        self._port = port
        self._ready = threading.Event()
        self._lock = threading.Lock()
        self._heard: list[tuple[str, bytes, bool]] = []
        self._client = Client(
            CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv5
        )
        self._client.reconnect_delay_set(1, 1)
        self._client.on_connect = lambda client, *_: client.subscribe(self._topic, qos=1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = self._hear

    def _hear(self, client: Client, data: object, message: MQTTMessage) -> None:
        with self._lock:
            self._heard.append((message.topic, message.payload, message.retain))

    def __enter__(self) -> Self:
        session = Properties(PacketTypes.CONNECT)
        session.SessionExpiryInterval = 3600
        self._client.connect("127.0.0.1", self._port, clean_start=False, properties=session)
        self._client.loop_start()
        assert self._ready.wait(PATIENCE_S)
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def say(self, topic: str, payload: bytes) -> None:
        """Publish something."""
        self._client.publish(topic, payload, 1).wait_for_publish(PATIENCE_S)

    def heard(self, ending: str = "") -> list[tuple[str, bytes]]:
        """Topics and payloads in the order of their coming."""
        with self._lock:
            return [(t, p) for t, p, _ in self._heard if t.endswith(ending)]

    def batches(self) -> list[Batch]:
        """Every batch of rows."""
        no_rows = ("/card", "/online", "/now", "/gone", "/durable", "/wanted")
        return [
            msgspec.json.decode(payload, type=Batch)
            for topic, payload in self.heard()
            if not topic.endswith(no_rows)
        ]

    def numbers(self) -> list[int]:
        """The number of every row in the order of its coming."""
        return [row.seq for batch in self.batches() for row in batch.rows]
