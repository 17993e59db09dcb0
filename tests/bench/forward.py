"""What the sinks cost beside the bare libraries: python tests/bench/forward.py [rows]

Each line: rows a second, processor time of this process a row, and how that compares with the bare
library doing the least it can (bodies made beforehand, nothing validated, nothing remembered).
Real servers on loopback, which share the machine's cores with the measurement.
"""

from __future__ import annotations

import asyncio
import gzip
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
import numpy as np
import urllib3
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from analytics.samples import Rows
from firmware_bridge.forward.broker import IN_FLIGHT, MqttOptions
from firmware_bridge.forward.lines import line_of
from firmware_bridge.forward.payloads import pack
from firmware_bridge.forward.runner import Forwarder, Pace, SinkStatus
from firmware_bridge.forward.sink import Parcel, Sink, SiteCard
from firmware_bridge.forward.sinks import line_protocol, mqtt
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.store.out_row import Outbox, OutRow
from tests import peers
from tests.receiving import far_end

BEGIN_MS = 1_767_225_600_000
CARD = SiteCard(site_id="harbour-steps", name="Harbour Steps")


class Rate(msgspec.Struct, frozen=True):
    """How fast something went."""

    rows_s: float
    cpu_us: float


def measured(rows: int, work: Callable[[], None]) -> Rate:
    """Run once: rows a second of wall time, microseconds of processor time a row."""
    start, busy = time.perf_counter(), time.process_time()
    work()
    spent, used = time.perf_counter() - start, time.process_time() - busy
    return Rate(rows / spent, used / rows * 1e6)


def best(rows: int, work: Callable[[], None], times: int = 3) -> Rate:
    """The fastest of some runs."""
    return max((measured(rows, work) for _ in range(times)), key=lambda rate: rate.rows_s)


def fill(site: Store, rows: int) -> None:
    """Readings of five numbers a second apart, an hour to a batch."""
    rng = np.random.default_rng(1)
    for first in range(1, rows + 1, 3600):
        number = np.arange(first, min(first + 3600, rows + 1))
        count = len(number)
        readings = Rows(
            at_ms=BEGIN_MS + number * 1000,
            outlet_us_cm=np.round(400 + rng.normal(0, 2, count), 1),
            outlet_temp_c=np.round(19 + rng.normal(0, 0.1, count), 2),
            inlet_us_cm=np.round(610 + rng.normal(0, 2, count), 1),
            inlet_temp_c=np.round(15 + rng.normal(0, 0.1, count), 2),
            pulses=rng.integers(0, 40, count),
            flags=np.zeros(count, dtype=np.int64),
        )
        taken = Taken(
            line_id="bar", rows=readings, boot_id=1, uptime_ms=number * 1000, frame_seq=number
        )
        site.submit(Batch(readings=(taken,))).result()


def all_rows(outbox: Outbox, rows: int) -> list[OutRow]:
    """Every row, read as a sink would."""
    found: list[OutRow] = []
    while len(found) < rows:
        found += outbox.read(len(found), 2000)
    return found


@contextmanager
def bare_client(port: int) -> Iterator[Callable[[list[tuple[str, bytes]]], None]]:
    """paho-mqtt by itself: publish everything with QoS 1 and wait for the last answer."""
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.max_inflight_messages_set(IN_FLIGHT)
    answered = threading.Semaphore(0)
    client.on_publish = lambda *_: answered.release()
    client.connect("127.0.0.1", port)
    client.loop_start()

    def publish(messages: list[tuple[str, bytes]]) -> None:
        for topic, payload in messages:
            client.publish(topic, payload, 1)
        for _ in messages:
            answered.acquire()

    try:
        yield publish
    finally:
        client.disconnect()
        client.loop_stop()


def parcel_of(rows: list[OutRow]) -> Parcel:
    """Rows without a gap."""
    return Parcel(after=rows[0].seq - 1, up_to=rows[-1].seq, rows=tuple(rows))


def send_all(sink: Sink, options: msgspec.Struct, rows: list[OutRow]) -> Callable[[], None]:
    """A sink alone: all rows from memory in full sends."""
    at_work = sink.open(options, CARD, lambda: int(time.time() * 1000))
    at_work.send(parcel_of(rows[:1]))

    def work() -> None:
        for first in range(0, len(rows), sink.rows_a_send):
            at_work.send(parcel_of(rows[first : first + sink.rows_a_send]))

    return work


def drain(
    sink: Sink,
    options: msgspec.Struct,
    site: Store,
    rows: int,
    done: Callable[[SinkStatus], int] = lambda status: status.cursor,
) -> Rate:
    """The whole way from the file, cursor and all, until the last row is confirmed."""
    task = Forwarder(
        name=sink.name, sink=sink, options=options, card=CARD, outbox=site.outbox,
        now_ms=lambda: int(time.time() * 1000), rng=random.Random(1), pace=Pace(linger_s=0.0),
    )  # fmt: skip

    async def until_done() -> None:
        stop = asyncio.Event()
        work = asyncio.create_task(task.run(stop))
        while done(task.status) < rows:  # noqa: ASYNC110 - a status is read, not awaited
            await asyncio.sleep(0.01)
        stop.set()
        await work

    return measured(rows, lambda: asyncio.run(until_done()))


def report_mqtt(folder: Path, site: Store, rows: list[OutRow]) -> None:
    """The MQTT sink beside bare paho."""
    messages, _ = pack(rows, "lastlitre", "harbour-steps")
    wire = [(message.topic, message.payload) for message in messages]
    singles = [(wire[0][0], bytes(200))] * 10_000
    print(f"MQTT: {len(messages)} messages of {len(wire[0][1])} bytes, QoS 1")
    with peers.broker(folder / "broker") as broker:
        options = MqttOptions(host="127.0.0.1", port=broker.port)
        with bare_client(broker.port) as publish:
            single = best(len(singles), lambda: publish(singles))
            bare = best(len(rows), lambda: publish(wire))
        show("bare paho, 200 bytes a message, one row each", single, single)
        show("bare paho, the same messages ready-made", bare, bare)
        show("packing alone", best(len(rows), lambda: _pack(rows)), bare)
        show("sink alone", best(len(rows), send_all(mqtt.SINK, options, rows)), bare)
        with far_end(broker.port, folder / "receiver.db") as far:
            way = drain(mqtt.SINK, options, site, len(rows))
            show("store -> sink -> broker -> receiver, confirmed", way, bare)
            held = far.numbers("harbour-steps")
            print(f"  the receiver holds {len(held)} rows, {len(set(held))} of them different")


def report_series(folder: Path, site: Store, rows: list[OutRow]) -> None:
    """The line-protocol sink beside bare urllib3."""
    now = int(time.time() * 1000)
    a_send = line_protocol.SINK.rows_a_send
    lines = [line_of(row, "harbour-steps", now) for row in rows]
    bodies = [
        gzip.compress("\n".join(lines[first : first + a_send]).encode(), 1)
        for first in range(0, len(lines), a_send)
    ]
    size = sum(map(len, bodies)) / len(lines)
    print(f"line protocol: {len(lines[0])} bytes a line, {size:.0f} compressed, {a_send} a request")
    with peers.time_series_store(folder / "series") as store:
        pool = urllib3.PoolManager()

        def post() -> None:
            for body in bodies:
                answer = pool.request(
                    "POST", f"{store.url}/api/v2/write?precision=ms", body=body,
                    headers={"Content-Encoding": "gzip"},
                )  # fmt: skip
                assert answer.status == 204

        options = line_protocol.LineProtocolOptions(url=store.url)
        bare = best(len(rows), post)
        show("bare urllib3, the same bodies ready-made", bare, bare)
        show("formatting alone", best(len(rows), lambda: _format(rows, now)), bare)
        sink = line_protocol.SINK
        show("sink alone", best(len(rows), send_all(sink, options, rows)), bare)
        way = drain(sink, options, site, len(rows), lambda status: status.accepted)
        show("store -> sink -> server, sent the first time", way, bare)


def _pack(rows: list[OutRow]) -> None:
    a_send = mqtt.SINK.rows_a_send
    for first in range(0, len(rows), a_send):
        pack(rows[first : first + a_send], "lastlitre", "harbour-steps")


def _format(rows: list[OutRow], now: int) -> None:
    for row in rows:
        line_of(row, "harbour-steps", now)


def show(what: str, rate: Rate, bare: Rate) -> None:
    """One line of the table."""
    share = rate.rows_s / bare.rows_s
    print(
        f"  {what:<46} {rate.rows_s:>9,.0f} rows/s {rate.cpu_us:>6.1f} us/row {share:>5.2f} x bare"
    )


def memory_of(imports: str) -> float:
    """MiB of a fresh process after these imports."""
    program = f"import {imports}; print(next(l for l in open('/proc/self/status') if 'VmRSS' in l))"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    return int(done.stdout.split()[1]) / 1024


def report_memory() -> None:
    """What each import adds to a process that has asyncio, sqlite3, msgspec and numpy already."""
    base = "asyncio, sqlite3, msgspec, numpy, structlog, firmware_bridge.store.database"
    ground = memory_of(base)
    print(f"memory: {ground:.1f} MiB before any sink")
    for name in ("runner", "sinks.mqtt", "sinks.line_protocol"):
        more = memory_of(f"{base}, firmware_bridge.forward.{name}") - ground
        print(f"  + forward.{name}: {more:.1f}")
    used = f"{base}, influxdb_client"
    print(f"  + the store's client library, once that sink is used: {memory_of(used) - ground:.1f}")


def report(rows: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Store.open(folder / "site.db", site_id="harbour-steps") as site:
            fill(site, rows)
            reading = measured(rows, lambda: _read(site, rows))
            print(f"{rows:,} rows; out of the store alone:")
            show("read 2000 at a time", reading, reading)
            found = all_rows(site.outbox, rows)
            report_mqtt(folder, site, found)
            report_series(folder, site, found)
    report_memory()


def _read(site: Store, rows: int) -> None:
    all_rows(site.outbox, rows)


if __name__ == "__main__":
    report(int(sys.argv[1]) if len(sys.argv) > 1 else 120_000)
