"""Faults that are really made, and set equality at the far end: nothing lost, nothing twice."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import Now
from firmware_bridge.forward.sinks import line_protocol, mqtt
from firmware_bridge.receiver.receiver import Receiver
from tests import peers
from tests.firmware_bridge.forward.outbox import (
    CARD,
    EAGER,
    Listener,
    ListOutbox,
    forwarder,
    readings,
    running,
    until,
)
from tests.stream_faults import (
    Outcome,
    broker_killed_with_messages,
    killed_at_random,
    receiver_restored,
    series_store_killed,
)
from tests.tap import tap

pytestmark = [pytest.mark.peer, pytest.mark.timeout(120)]

SITE = CARD.site_id


def options(port: int, **more: object) -> MqttOptions:
    """Options for a broker of the tests."""
    return MqttOptions(
        **{"host": "127.0.0.1", "port": port, "answer_s": 5.0, "patience": EAGER} | more  # type: ignore[arg-type]
    )


def nothing_lost(outcome: Outcome) -> bool:
    """Every row is at the far end once."""
    return (outcome.lost, outcome.doubled) == (0, 0)


async def test_killed_broker_takes_acknowledged_messages_with_it(tmp_path: Path) -> None:
    """Rows that only the broker had, and had acknowledged, are sent again after its death."""
    outcome = await broker_killed_with_messages(tmp_path, 2)

    assert nothing_lost(outcome), outcome
    assert outcome.missing_once == outcome.rows == 4000
    assert outcome.repeated >= outcome.rows


async def test_broker_and_receiver_killed_again_and_again(tmp_path: Path) -> None:
    """Whoever is killed at whatever moment, in the end the far side has every row once."""
    outcome = await killed_at_random(tmp_path, 8)

    assert nothing_lost(outcome), outcome


async def test_receiver_given_an_older_file_gets_the_rest_again(tmp_path: Path) -> None:
    """A far side restored from a backup says a lower number, and the site sends from there."""
    outcome = await receiver_restored(tmp_path, 2)

    assert nothing_lost(outcome), outcome
    assert outcome.repeated >= outcome.rows


async def test_killed_series_store_gets_everything_a_second_time(tmp_path: Path) -> None:
    """A store killed right after it took rows shows every one of them after the second time."""
    outcome = await series_store_killed(tmp_path, 1)

    assert nothing_lost(outcome), outcome
    assert outcome.repeated >= 2 * outcome.rows  # it was another process the second time


async def test_backlog_drains_while_the_present_is_shown(
    broker: peers.Broker, receiver: Receiver
) -> None:
    """Summaries of now arrive before and between the rows of a long backlog."""
    outbox = ListOutbox(readings(1, 60_000))
    shown: list[tuple[int, int]] = []
    with Listener(broker.port, "lastlitre/v1/+/+/now", "summaries") as listener:
        async with running(forwarder(mqtt.SINK, options(broker.port), outbox)):
            newest = 60_000
            while outbox.cursor("mqtt") < 60_000:
                outbox.add(readings(newest + 1, newest + 1))
                newest += 1
                await asyncio.sleep(0.05)
                if heard := listener.heard("/now"):
                    now = msgspec.json.decode(heard[-1][1], type=Now)
                    shown.append((now.newest["reading"].seq, outbox.cursor("mqtt")))
            await until("the rest", lambda: outbox.cursor("mqtt") == newest)

    live = {seq for seq, cursor in shown if cursor < 60_000 and seq > 60_000}
    assert len(live) >= 3
    assert receiver.kept.numbers(SITE) == list(range(1, newest + 1))
    assert receiver.kept.aside() == []


async def test_rows_that_never_come_hold_nothing_up(
    broker: peers.Broker, receiver: Receiver
) -> None:
    """Rows refused on the way, and numbers no row has, are told to the receiver as gone."""
    rows = readings(1, 300)
    rows[149] = msgspec.structs.replace(rows[149], kind="gossip")
    outbox = ListOutbox(rows)
    async with running(forwarder(mqtt.SINK, options(broker.port), outbox)):
        await until("confirmation", lambda: outbox.cursor("mqtt") == 300)

    assert receiver.kept.numbers(SITE) == [n for n in range(1, 301) if n != 150]
    assert outbox.aside == {150: "'gossip' is a kind with no topic"}


async def test_nonsense_on_the_receivers_topics_is_counted(
    broker: peers.Broker, receiver: Receiver
) -> None:
    """Words that no receiver would say move nothing and break nothing."""
    outbox = ListOutbox(readings(1, 100))
    async with running(forwarder(mqtt.SINK, options(broker.port), outbox)) as task:
        await until("confirmation", lambda: outbox.cursor("mqtt") == 100)
        with Listener(broker.port, "nothing", "stranger") as stranger:
            for payload in (b"", b"{", b'{"site":"other","up_to":3}', b'{"v":9,"up_to":3}'):
                stranger.say(f"lastlitre/v1/{SITE}/durable", payload)
            stranger.say(f"lastlitre/v1/{SITE}/wanted", b'{"site":"%s","spans":[[9,3]]}')
            await until("the count", lambda: task.status.unreadable == 5)
            outbox.add(readings(101, 200))
            await until("the rest", lambda: outbox.cursor("mqtt") == 200)


async def test_server_in_every_kind_of_trouble(store: peers.TimeSeriesStore) -> None:
    """500, a rest asked for, a slow answer, one bad row: the good rows all arrive, once."""
    troubles = iter([(500, {}, "oops"), (429, {"Retry-After": "0"}, ""), "slow", (503, {}, "")])
    bad = f" {readings(2300, 2300)[0].at_ms}"

    def judge(lines: list[str]) -> tuple[int, dict[str, str], str] | None:
        trouble = next(troubles, None)
        if trouble == "slow":
            time.sleep(1.0)
            return None
        if isinstance(trouble, tuple):
            return trouble
        return (400, {}, "bad row") if any(line.endswith(bad) for line in lines) else None

    outbox = ListOutbox(readings(1, 2500))
    with peers.front(store.url) as front:
        front.judge = judge
        given = line_protocol.LineProtocolOptions(url=front.url, timeout_s=0.5, again_after_s=0.5)
        async with running(forwarder(line_protocol.SINK, given, outbox)) as task:
            await until("the end", lambda: outbox.cursor("line-protocol") == 2500)
    in_lines = '{line!=""}'
    await until("all", lambda: len(store.samples(in_lines)) >= 4998)

    assert {at_ms for *_, at_ms, _ in store.samples(in_lines)} == {
        row.at_ms for row in readings(1, 2500) if row.seq != 2300
    }
    assert outbox.aside == {2300: "bad row"}
    assert task.status.rejected == 1
    assert task.status.retries >= 4


async def sent_through_a_tap(port: int, given: MqttOptions) -> bytes:
    """Everything that passes on the line to the broker while rows are sent."""
    with tap(port) as line:
        tapped = msgspec.structs.replace(given, port=line.port)
        async with running(forwarder(mqtt.SINK, tapped, ListOutbox(readings(1, 300)))) as task:
            await until("the rows", lambda: task.status.accepted == 300)
    return bytes(line.passed)


READABLE: tuple[Callable[[bytes], bool], ...] = tuple(
    (lambda passed, word=word: word in passed)
    for word in (b"harbour-steps", b"outlet_us_cm", b"three-grinders", b"durable")
)


async def test_capture_shows_nothing_readable_with_tls(tmp_path: Path) -> None:
    """On the wire a TLS line shows neither topic nor row nor password; a plain one shows all."""
    secret = {"user": "site", "password": "three-grinders"}
    with (
        peers.broker(tmp_path / "plain") as plain,
        peers.broker(tmp_path / "safe", tls=True) as safe,
    ):
        bare = await sent_through_a_tap(plain.port, options(plain.port, **secret))
        kept = options(safe.port, host="localhost", tls=True, ca_file=safe.ca_file, **secret)
        covered = await sent_through_a_tap(safe.port, kept)

    assert all(reads(bare) for reads in READABLE)
    assert not any(reads(covered) for reads in READABLE)
    assert covered[:2] == b"\x16\x03"  # a TLS handshake record


async def test_broker_that_asks_for_a_certificate(tmp_path: Path) -> None:
    """With its own certificate the site is let in; without, or with an open key, it is told why."""
    folder = tmp_path / "strict"
    settings = ("require_certificate true", f"cafile {folder / 'keys' / 'ca.pem'}")
    with peers.broker(folder, *settings, tls=True) as strict:
        keys = folder / "keys"
        (keys / "site.key").chmod(0o600)
        plain = options(strict.port, host="localhost", tls=True, ca_file=strict.ca_file)
        shown = msgspec.structs.replace(
            plain, cert_file=str(keys / "site.pem"), key_file=str(keys / "site.key")
        )
        async with running(forwarder(mqtt.SINK, shown, ListOutbox(readings(1, 60)))) as task:
            await until("the rows", lambda: task.status.accepted == 60)
        async with running(forwarder(mqtt.SINK, plain, ListOutbox(readings(1, 60)))) as task:
            await until("the refusal", lambda: task.status.retries >= 1)
            assert task.status.accepted == 0
        (keys / "site.key").chmod(0o644)
        async with running(forwarder(mqtt.SINK, shown, ListOutbox(readings(1, 60)))) as task:
            await until("the complaint", lambda: "others can open" in task.status.trouble)
            assert "chmod 600" in task.status.hint
