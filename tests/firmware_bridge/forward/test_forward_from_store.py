"""The whole way out: rows of a real site's file, through both sinks, to real servers at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.samples import AlarmChange, DropTest, Point, Rows
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.sinks import line_protocol, mqtt
from firmware_bridge.receiver.receiver import Receiver
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.store.out_row import OutRow
from tests import peers
from tests.firmware_bridge.forward.outbox import START_MS, Listener, forwarder, running, until

pytestmark = pytest.mark.peer

BOOT = 77


def taken(first: int, count: int) -> Taken:
    """Readings a second apart, as a node gave them; every tenth has no inlet reading."""
    number = np.arange(first, first + count)
    inlet = np.where(number % 10 == 0, np.nan, 612.5 + number % 13)
    rows = Rows(
        at_ms=START_MS + number * 1000,
        outlet_us_cm=401.25 + number % 17,
        outlet_temp_c=19.5 + number % 3,
        inlet_us_cm=inlet,
        inlet_temp_c=np.full(count, 14.75),
        pulses=number % 40,
        flags=np.zeros(count, dtype=np.int64),
    )
    return Taken(line_id="bar", rows=rows, boot_id=BOOT, uptime_ms=number * 1000, frame_seq=number)


def extras(at_ms: int) -> Batch:
    """An event and an alarm."""
    drops = DropTest(at_ms=at_ms, line_id="bar", point=Point.TREATED, hardness_mmol_l=0.7)
    leak = AlarmChange(
        at_ms=at_ms, alarm="leak", change="raised", priority="high", text="Water runs."
    )
    return Batch(events=(drops,), alarms=(("bar", leak),))


def expected_samples(rows: list[OutRow]) -> set[tuple[str, tuple[str, ...], int, float]]:
    """What the time-series store must hold of rows as the outbox gives them."""
    labels = ("line=bar", "site=harbour-steps")
    alarm = ("alarm=leak", "change=raised", *labels)
    found = {
        (f"reading_{name}", labels, row.at_ms, value)
        for row in rows
        if row.kind == "reading"
        for name, value in row.numbers.items()
    }
    return found | {("alarm_changes", alarm, row.at_ms, 1.0) for row in rows if row.kind == "alarm"}


async def test_two_sinks_follow_one_file_across_a_restart(
    tmp_path: Path, broker: peers.Broker, store: peers.TimeSeriesStore, receiver: Receiver
) -> None:
    """Rows stored before and after the file was closed and opened again reach both far ends."""
    path = tmp_path / "site.db"
    mqtt_options = MqttOptions(host="127.0.0.1", port=broker.port)
    series_options = line_protocol.LineProtocolOptions(url=store.url, again_after_s=0.1)
    sent: list[OutRow] = []
    with Listener(broker.port) as listener:
        for part in range(3):
            with Store.open(path, site_id="harbour-steps") as site:
                site.submit(Batch(readings=(taken(part * 2500 + 1, 2500),))).result()
                newest = site.submit(extras(START_MS + (part + 1) * 2_500_000)).result().last_seq
                assert newest == (part + 1) * 2502
                box = site.outbox
                async with (
                    running(forwarder(mqtt.SINK, mqtt_options, box)) as first,
                    running(forwarder(line_protocol.SINK, series_options, box)) as second,
                ):
                    await until("MQTT", lambda n=newest: first.status.cursor == n)
                    await until("series", lambda n=newest: second.status.cursor == n)
                assert (first.status.accepted, second.status.accepted) == (2502, 2502)
                sent += box.read(part * 2502, 5000)
        await until("all to be heard", lambda: len(listener.numbers()) >= 7506)
        heard = {row.seq: row.numbers for batch in listener.batches() for row in batch.rows}

    assert receiver.kept.numbers("harbour-steps") == list(range(1, 7507))
    assert heard == {row.seq: row.numbers for row in sent}
    expected = expected_samples(sent)
    assert len(expected) == 7500 * 5 - 750 + 3
    await until("all to be there", lambda: len(store.samples()) >= len(expected))
    assert store.samples() == expected


async def test_refused_rows_are_kept_in_the_file(tmp_path: Path) -> None:
    """A row the server refuses is in the site's file with the reason; the others are done."""
    with Store.open(tmp_path / "site.db", site_id="harbour-steps") as site, peers.front() as front:
        site.submit(Batch(readings=(taken(1, 500),))).result()
        bad = f" {START_MS + 250_000}"
        front.judge = lambda lines: (
            (422, {}, "type conflict") if any(line.endswith(bad) for line in lines) else None
        )
        options = line_protocol.LineProtocolOptions(url=front.url, again_after_s=0.1)
        async with running(forwarder(line_protocol.SINK, options, site.outbox)) as task:
            await until("the rows to go", lambda: task.status.cursor == 500)
        rejected = site.reader().rejected("line-protocol")

    assert [(kept.seq, kept.reason) for kept in rejected] == [(250, "type conflict")]
    assert rejected[0].row.at_ms == START_MS + 250_000
    delivered = {line.rsplit(" ", 1)[1] for line in front.lines if line.startswith("reading")}
    assert len(delivered) == 499
