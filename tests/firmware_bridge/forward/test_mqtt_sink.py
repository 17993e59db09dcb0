"""The MQTT sink against a real broker: nothing is lost, and what goes wrong is said."""

from __future__ import annotations

import asyncio
import socket
from pathlib import Path

import msgspec
import pytest

from analytics.errors import SinkError
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import Card, Now, Online
from firmware_bridge.forward.runner import Condition
from firmware_bridge.forward.sink import Heard
from firmware_bridge.forward.sinks.mqtt import SINK
from firmware_bridge.receiver.receiver import Receiver
from firmware_bridge.secrets import Secret
from tests import peers
from tests.firmware_bridge.forward.outbox import (
    CARD,
    EAGER,
    START_MS,
    Listener,
    ListOutbox,
    forwarder,
    now_ms,
    parcel,
    reading,
    readings,
    row,
    running,
    until,
)

pytestmark = pytest.mark.peer


def options(broker: peers.Broker, **more: object) -> MqttOptions:
    """Options for a broker of the tests."""
    return MqttOptions(
        **{"host": "127.0.0.1", "port": broker.port, "answer_s": 5.0, "patience": EAGER} | more
    )  # type: ignore[arg-type]


async def test_every_row_arrives_once(broker: peers.Broker, receiver: Receiver) -> None:
    """Rows of two lines and five kinds reach a subscriber once each, oldest first by topic."""
    others = [
        row(1001, "draw", litres=0.25),
        row(1002, "estimate", remaining_l_p50=812.0),
        row(1003, "event", {"what": "drop-test", "note": "4 drops, “treated”"}),
        row(1004, "alarm", {"alarm": "capacity-low", "change": "raised", "text": "Order one."}),
    ]
    outbox = ListOutbox(readings(1, 600) + readings(601, 1000, "mill/1") + others)
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), outbox)) as task:
            await until("the backlog to go", lambda: outbox.cursor("mqtt") == 1004)
            await until("all to be heard", lambda: len(listener.numbers()) >= 1004)

    assert sorted(listener.numbers()) == list(range(1, 1005))
    assert max(len(batch.rows) for batch in listener.batches()) == 60
    topics = {topic for topic, _ in listener.heard()}
    assert "lastlitre/v1/harbour-steps/mill%2F1/readings" in topics
    assert {t.rsplit("/", 1)[1] for t in topics} == {
        "card", "online", "now", "durable", "readings", "draws", "estimates", "events", "alarms",
    }  # fmt: skip
    for line_and_kind in {(batch.line, batch.kind) for batch in listener.batches()}:
        own = [b.first for b in listener.batches() if (b.line, b.kind) == line_and_kind]
        assert own == sorted(own)
    assert task.status.accepted == 1004
    assert task.status.backlog == 0


async def test_a_row_arrives_as_it_was(broker: peers.Broker) -> None:
    """Number, time, cartridge, numbers and words of a row come through unchanged."""
    sent = msgspec.structs.replace(
        row(1, "alarm", {"alarm": "leak", "text": "Fuite d'eau – 3 L"}, litres=3.25),
        cartridge_id="C-7",
    )
    outbox = ListOutbox([sent])
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), outbox)):
            batch = (await until("the alarm", listener.batches))[0]

    assert (batch.v, batch.site, batch.line, batch.kind) == (1, "harbour-steps", "bar", "alarm")
    got = batch.rows[0]
    assert (got.seq, got.at_ms, got.cartridge) == (1, START_MS + 1000, "C-7")
    assert (got.numbers, got.words) == (sent.numbers, sent.words)


async def test_restarted_broker_loses_no_row(broker: peers.Broker, receiver: Receiver) -> None:
    """A broker that is restarted while rows flow ends up with every row handed on."""
    outbox = ListOutbox(readings(1, 4000))
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), outbox)) as task:
            await until("rows to flow", lambda: outbox.cursor("mqtt") > 1000)
            await asyncio.to_thread(broker.stop)
            outbox.add(readings(4001, 8000))
            await until("the loss to be seen", lambda: task.status.condition is Condition.AWAY)
            await asyncio.to_thread(broker.start)
            await until("the backlog to go", lambda: outbox.cursor("mqtt") == 8000)
            await until("all to be heard", lambda: len(set(listener.numbers())) == 8000)

    assert set(listener.numbers()) == set(range(1, 8001))
    assert task.status.retries >= 1
    assert task.status.trouble == ""


async def test_killed_broker_gets_what_came_meanwhile(
    broker: peers.Broker, receiver: Receiver
) -> None:
    """After a kill -9 the rows stored meanwhile are sent when the broker is back."""
    outbox = ListOutbox(readings(1, 500))
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), outbox)) as task:
            await until("the first rows", lambda: len(set(listener.numbers())) == 500)
            await until("their answers", lambda: outbox.cursor("mqtt") == 500)
            await asyncio.to_thread(broker.kill)
            outbox.add(readings(501, 900))
            await until("the loss to be seen", lambda: task.status.condition is Condition.AWAY)
            assert "cannot be reached" in task.status.trouble or "ended" in task.status.trouble
            assert task.status.backlog == 400
            await asyncio.to_thread(broker.start)
            await until("the broker to be found", lambda: outbox.cursor("mqtt") == 900)

    with Listener(broker.port, "lastlitre/v1/+/card", "another") as other:
        told = await until("the card", lambda: other.heard("/card"))
        assert msgspec.json.decode(told[0][1], type=Card).name == "Harbour Steps"


async def test_new_process_goes_on_from_the_cursor(
    broker: peers.Broker, receiver: Receiver, tmp_path: Path
) -> None:
    """A forwarder started on a kept cursor sends what is new, and nothing again."""
    path = tmp_path / "cursors.json"
    with Listener(broker.port) as listener:
        first = ListOutbox(readings(1, 300), path)
        async with running(forwarder(SINK, options(broker), first)):
            await until("the first rows", lambda: first.cursor("mqtt") == 300)
        again = ListOutbox(readings(1, 450), path)
        async with running(forwarder(SINK, options(broker), again)) as task:
            await until("the rest", lambda: len(listener.numbers()) >= 450)

    assert sorted(listener.numbers()) == list(range(1, 451))
    assert task.status.sent == 150


async def test_unfit_row_is_kept_aside(broker: peers.Broker, receiver: Receiver) -> None:
    """A row with something that is not a number is set aside with its reason; the rest arrive."""
    rows = readings(1, 100)
    rows[41] = reading(42, outlet_us_cm=float("nan"))
    rows[57] = row(58, "gossip", words={"text": "?"})
    outbox = ListOutbox(rows)
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), outbox)) as task:
            await until("the rest", lambda: len(listener.numbers()) == 98)
            await until("the cursor", lambda: outbox.cursor("mqtt") == 100)

    assert set(listener.numbers()) == set(range(1, 101)) - {42, 58}
    assert outbox.aside == {
        42: "outlet_us_cm is nan, which is not a number",
        58: "'gossip' is a kind with no topic",
    }
    assert task.status.rejected == 2


async def test_now_overtakes_a_backlog(broker: peers.Broker) -> None:
    """The newest reading and estimate are shown before the first row of a long backlog."""
    rows = [*readings(1, 5000), row(5001, "estimate", remaining_l_p50=77.0), reading(5002)]
    with Listener(broker.port) as listener:
        async with running(forwarder(SINK, options(broker), ListOutbox(rows))):
            await until("rows", listener.numbers)

    heard = [topic.rsplit("/", 1)[1] for topic, _ in listener.heard()]
    assert heard[:4] == ["card", "online", "now", "readings"]
    now = msgspec.json.decode(listener.heard("/now")[0][1], type=Now)
    assert now.newest["reading"].seq == 5002
    assert now.newest["estimate"].numbers == {"remaining_l_p50": 77.0}


async def test_late_subscriber_finds_card_now_and_presence(
    broker: peers.Broker, receiver: Receiver
) -> None:
    """Card, summary, presence and receiver's word are retained; a stop says offline."""
    async with running(forwarder(SINK, options(broker), ListOutbox(readings(1, 5)))) as task:
        await until("the rows to go", lambda: task.status.cursor == 5)
        with Listener(broker.port) as listener:
            for ending in ("/card", "/online", "/bar/now", "/durable"):
                await until(ending, lambda e=ending: listener.heard(e))
            online = msgspec.json.decode(listener.heard("/online")[0][1], type=Online)
            card = msgspec.json.decode(listener.heard("/card")[0][1], type=Card)
            assert online.online
            assert (card.site, card.service) == ("harbour-steps", "Northgate Water Care")
    with Listener(broker.port, "lastlitre/v1/+/online", "after") as listener:
        told = await until("the farewell", lambda: listener.heard())
        assert not msgspec.json.decode(told[0][1], type=Online).online


def test_broken_connection_lets_the_will_speak(broker: peers.Broker) -> None:
    """Where the connection ends without a farewell, the broker says that the site is offline."""
    sink = SINK.open(options(broker), CARD, now_ms)
    sink.send(parcel(readings(1, 1)))
    rival = options(broker, client_id="lastlitre-harbour-steps")
    with Listener(broker.port, "lastlitre/v1/+/online") as listener:
        peers.eventually("to be online", lambda: listener.heard())
        other = SINK.open(rival, CARD, now_ms)  # the same client: the broker throws the first out
        other.send(parcel(readings(2, 2)))
        heard = peers.eventually("will and hello", lambda: len(listener.heard()) >= 3)
        states = [msgspec.json.decode(p, type=Online).online for _, p in listener.heard()]
        assert heard
        assert False in states
        assert states[-1]
        other.close()
    sink.close()


async def test_tls_with_its_own_authority(tmp_path: Path) -> None:
    """Over TLS rows arrive where the authority is known; without it nothing is sent."""
    with peers.broker(tmp_path / "tls", tls=True) as broker:
        known = options(broker, host="localhost", tls=True, ca_file=broker.ca_file)
        outbox = ListOutbox(readings(1, 120))
        async with running(forwarder(SINK, known, outbox)) as task:
            await until("the rows to go", lambda: task.status.accepted == 120)
        assert task.status.trouble == ""
        for wrong, mend in (
            ({"tls": True}, "Check ca_file"),
            ({"tls": True, "ca_file": str(tmp_path / "none.pem")}, "PEM"),
            ({"host": "127.0.0.1", "tls": True, "ca_file": broker.ca_file}, "Check ca_file"),
        ):
            sink = SINK.open(options(broker, **{"host": "localhost", **wrong}), CARD, now_ms)
            with pytest.raises(SinkError) as found:
                sink.send(parcel(readings(1, 1)))
            sink.close()
            assert not found.value.retryable
            assert mend in found.value.hint
        assert broker.said().count("connected from") == 1


def test_plain_client_at_a_tls_port_is_told(tmp_path: Path) -> None:
    """A client that speaks in clear to a TLS port fails with a sentence, and may try again."""
    with peers.broker(tmp_path / "tls", tls=True) as broker:
        sink = SINK.open(options(broker, answer_s=2.0), CARD, now_ms)
        with pytest.raises(SinkError) as found:
            sink.send(parcel(readings(1, 1)))
        sink.close()

    assert found.value.retryable
    assert found.value.hint


def test_password_is_asked_and_hidden(tmp_path: Path) -> None:
    """The right user gets in; a wrong one is told so, and the password is in no message."""
    folder = tmp_path / "guarded"
    folder.mkdir()
    passwords = peers.password_file(folder, "site", "three-grinders")
    with peers.broker(folder, f"password_file {passwords}") as broker:
        good = options(broker, user="site", password=Secret("three-grinders"))
        sink = SINK.open(good, CARD, now_ms)
        sink.send(parcel(readings(1, 3)))
        sink.close()
        bad = SINK.open(options(broker, user="site", password=Secret("guess")), CARD, now_ms)
        with pytest.raises(SinkError) as found:
            bad.send(parcel(readings(1, 3)))
        bad.close()

    assert not found.value.retryable
    assert "user and password" in found.value.hint
    assert "guess" not in str(found.value)
    assert "three-grinders" not in repr(good)


def test_forbidden_topic_keeps_the_rows(tmp_path: Path) -> None:
    """Where the broker's access list forbids a topic, nothing is settled and the topic is named."""
    folder = tmp_path / "listed"
    folder.mkdir()
    (folder / "access").write_text(
        "topic readwrite lastlitre/v1/harbour-steps/card\n"
        "topic readwrite lastlitre/v1/harbour-steps/online\n"
        "topic read lastlitre/v1/harbour-steps/durable\n"
        "topic read lastlitre/v1/harbour-steps/wanted\n"
    )
    with peers.broker(folder, f"acl_file {folder / 'access'}") as broker:
        sink = SINK.open(options(broker), CARD, now_ms)
        with pytest.raises(SinkError) as found:
            sink.send(parcel(readings(1, 3)))
        assert sink.heard() == Heard()
        sink.close()

    assert not found.value.retryable
    assert "lastlitre/v1/harbour-steps/bar/readings" in str(found.value)


def test_port_that_is_silent_is_given_up() -> None:
    """A port that takes connections and says nothing is given up, with the mend."""
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        port = deaf.getsockname()[1]
        sink = SINK.open(MqttOptions(host="127.0.0.1", port=port, answer_s=0.3), CARD, now_ms)
        with pytest.raises(SinkError, match=r"said nothing for 0.3 s") as found:
            sink.send(parcel(readings(1, 1)))
        sink.close()

    assert found.value.retryable
    assert "MQTT broker" in found.value.hint
