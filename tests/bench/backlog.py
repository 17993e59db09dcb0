"""A week of readings waits for the broker: how fast it goes, and what becomes of the present.

The whole way: the site's file, the sink, a broker, the reference receiver in a process of its own,
until the receiver has confirmed the last row. Meanwhile a reading is stored every second, and a
subscriber notes how old the newest reading of each summary is when it arrives.
"""

from __future__ import annotations

import asyncio
import random
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from analytics.samples import Rows
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import Now
from firmware_bridge.forward.runner import Forwarder, Pace
from firmware_bridge.forward.sinks import mqtt
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from tests import peers
from tests.bench.forward import CARD, fill
from tests.receiving import far_end

ROWS = 600_000
SOME_ROW = Rows(
    at_ms=np.array([0]),
    outlet_us_cm=np.array([401.5]),
    outlet_temp_c=np.array([19.25]),
    inlet_us_cm=np.array([612.5]),
    inlet_temp_c=np.array([14.75]),
    pulses=np.array([3]),
    flags=np.array([0]),
)


class Ages:
    """How old the present was in every summary, in seconds."""

    def __init__(self, port: int, first: int) -> None:
        self.seen: list[float] = []
        self._first = first
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_message = self._hear
        self._client.connect("127.0.0.1", port)
        self._client.subscribe("lastlitre/v1/+/+/now", 1)
        self._client.loop_start()

    def _hear(self, client: Client, data: object, message: MQTTMessage) -> None:
        newest = msgspec.json.decode(message.payload, type=Now).newest["reading"]
        if newest.seq >= self._first:
            self.seen.append(time.time() - newest.at_ms / 1000)

    def close(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()


def taken_now(site: Store, number: int) -> int:
    """Store a reading of this instant: its number."""
    now_ms = round(time.time() * 1000)
    rows = msgspec.structs.replace(SOME_ROW, at_ms=np.array([now_ms]))
    counted = np.array([number])
    taken = Taken(line_id="bar", rows=rows, boot_id=2, uptime_ms=counted * 1000, frame_seq=counted)
    return site.submit(Batch(readings=(taken,))).result().last_seq


async def drained(task: Forwarder, site: Store, done: Callable[[], bool]) -> float:
    """Seconds until all is confirmed, a new reading stored every second meanwhile."""
    stop = asyncio.Event()
    start = time.perf_counter()
    work = asyncio.create_task(task.run(stop))
    number = 0
    while not done():
        number += 1
        await asyncio.to_thread(taken_now, site, number)
        await asyncio.sleep(1.0)
    spent = time.perf_counter() - start
    stop.set()
    await work
    return spent


def run() -> dict[str, float]:
    """The figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with (
            Store.open(folder / "site.db", site_id=CARD.site_id) as site,
            peers.broker(folder / "broker") as broker,
            far_end(broker.port, folder / "far.db") as far,
        ):
            fill(site, ROWS)
            ages = Ages(broker.port, ROWS + 1)
            task = Forwarder(
                name="mqtt", sink=mqtt.SINK, card=CARD, outbox=site.outbox,
                options=MqttOptions(host="127.0.0.1", port=broker.port),
                now_ms=lambda: round(time.time() * 1000), rng=random.Random(1),
                pace=Pace(now_every_s=1.0),
            )  # fmt: skip
            spent = asyncio.run(drained(task, site, lambda: task.status.cursor >= ROWS))
            ages.close()
            held = far.numbers(CARD.site_id)
    return {
        "rows that waited": ROWS,
        "s until the last was confirmed": spent,
        "rows/s, confirmed": ROWS / spent,
        "rows the receiver lacks": len(set(range(1, ROWS + 1)) - set(held)),
        "rows the receiver has twice": len(held) - len(set(held)),
        "rows sent more than once": task.status.repeated,
        "summaries meanwhile": len(ages.seen),
        "s, age of the newest reading in them, median": float(np.median(ages.seen)),
        "s, the same, oldest": max(ages.seen),
    }
