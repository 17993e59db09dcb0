"""The load generator speaks MQTT 5 and sends what a site sends; its short form runs to the end."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.forward.payloads import Batch
from firmware_bridge.receiver.words import Incoming, understood
from tests.bench.fleet import run
from tests.fleet_load import codec
from tests.fleet_load.crowd import Site
from tests.fleet_load.sizes import BEGIN, filled, table
from tests.fleet_load.templates import PREFIX, batch, kind_of, read_row, row_text

SENT = st.tuples(st.text(min_size=1, max_size=20), st.binary(max_size=300), st.integers(0, 65535))


@given(st.lists(SENT, max_size=8), st.integers(1, 40))
def test_packets_come_whole_however_they_are_cut(
    sent: list[tuple[str, bytes, int]], size: int
) -> None:
    """What is written is read again, in pieces of any size."""
    data = b"".join(codec.publish(name.encode(), body, number) for name, body, number in sent)
    parser = codec.Parser()

    found = [p for i in range(0, len(data), size) for p in parser.feed(data[i : i + size])]

    assert [(p.topic, p.payload, p.number) for p in found] == sent


def test_the_greeting_tells_how_much_may_be_under_way() -> None:
    """A CONNACK with session expiry, an assigned name, a user property and receive maximum 20."""
    properties = bytes.fromhex("11000000ff") + b"\x12\x00\x02ab" + b"\x26\x00\x01k\x00\x01v"
    properties += b"\x21\x00\x14"
    body = b"\x00\x00" + bytes((len(properties),)) + properties
    (found,) = codec.Parser().feed(bytes((0x20, len(body))) + body)

    assert (found.kind, found.code, found.most) == (codec.CONNACK, 0, 20)


@given(st.integers(1, 3000), st.integers(0, 200))
def test_a_parcel_is_what_the_programs_own_reader_takes(first: int, more: int) -> None:
    """Of one kind, in order, each row a function of its number alone."""
    payload, last = batch("site-1", first, first + more, 1_767_225_600_000)
    site = Site("site-1", 1_767_225_600_000)

    topic = site.topics[kind_of(first, True)].decode()
    said = understood(Incoming(topic, payload), PREFIX)

    assert isinstance(said, Batch)
    assert [row.seq for row in said.rows] == list(range(first, last + 1))
    assert said.rows == [read_row(row_text(row.seq, site.begin_ms, True)) for row in said.rows]
    assert msgspec.json.decode(msgspec.json.encode(said), type=Batch) == said


def test_a_site_waits_for_the_word_and_sends_again_from_it() -> None:
    """At most so many rows under way; what was asked for goes first."""
    site = Site("site-1", 0, parcel=10, mixed=False)
    site.made, site.most = 100, 20

    assert [site.next(1.0) is not None for _ in range(3)] == [True, True, False]
    assert site.told(10, 3.0) == 2.0
    site.wanted.append((3, 4))
    found = site.next(4.0)
    assert found is not None
    rows = msgspec.json.decode(found[1], type=Batch).rows
    assert [row.seq for row in rows] == [3, 4]
    site.again()
    assert site.sent == 10


@pytest.mark.peer
@pytest.mark.timeout(120)
def test_the_short_form_runs_and_loses_nothing() -> None:
    """Worker and broker killed under load. A worker's process is started twice, which takes some
    seconds."""
    found = run(("kills",), short=True)

    assert found["kills: sites with a difference in the records"] == 0.0
    assert found["kills: rows made"] > 0.0


def test_the_page_on_running_a_fleet_takes_the_figures_once() -> None:
    """A newer measurement takes the place of the older one; what was not measured has no line."""
    page = f"before\n\n{BEGIN}\n\nafter\n"
    machine = {"cores": "2", "load": "0.1", "system": "Linux", "python": "3.11"}

    first = filled(page, table({"steady: sites": 15_000.0}, machine))
    second = filled(first, table({"ceiling: rows a second, durable": 123_456.0}, machine))

    assert "15 000" in first
    assert "15 000" not in second
    assert "123 000" in second
    assert second.startswith("before")
    assert second.endswith("after\n")
