"""Topics and payloads of version 1."""

from __future__ import annotations

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.forward.payloads import (
    Batch,
    newest_of,
    now_messages,
    pack,
    topic,
)
from tests.firmware_bridge.forward.outbox import reading, readings, row

KINDS = st.sampled_from(["reading", "draw", "estimate", "event", "alarm"])


@given(st.lists(st.tuples(KINDS, st.sampled_from(["bar", "mill", ""])), max_size=400))
def test_every_row_is_in_exactly_one_message(kinds: list[tuple[str, str]]) -> None:
    """However kinds and lines are mixed, each row is packed once, at most 60 to a message."""
    rows = [
        msgspec.structs.replace(row(seq, kind, litres=seq / 8), line_id=line_id)
        for seq, (kind, line_id) in enumerate(kinds, 1)
    ]
    messages, unfit = pack(rows, "lastlitre", "s")
    batches = [msgspec.json.decode(message.payload, type=Batch) for message in messages]

    assert not unfit
    assert sorted(seq for m in messages for seq in m.rows) == list(range(1, len(rows) + 1))
    for message, batch in zip(messages, batches, strict=True):
        assert 1 <= len(batch.rows) <= 60
        assert tuple(r.seq for r in batch.rows) == message.rows
        assert (batch.first, batch.last) == (message.rows[0], message.rows[-1])
        assert {(batch.kind, batch.line)} == {kinds[seq - 1] for seq in message.rows}
        assert all(r.numbers == {"litres": r.seq / 8} for r in batch.rows)
    assert [b.first for b in batches] == sorted(b.first for b in batches)


def test_payload_is_plain_json_with_units_in_names() -> None:
    """The bytes on the wire are what is documented, to the letter."""
    messages, _ = pack([reading(7, outlet_us_cm=412.5)], "water", "harbour-steps")

    assert messages[0].topic == "water/v1/harbour-steps/bar/readings"
    assert messages[0].payload == (
        b'{"v":1,"site":"harbour-steps","line":"bar","kind":"reading","first":7,"last":7,"box":"",'
        b'"rows":[{"seq":7,"at_ms":1767225607000,"numbers":{"outlet_us_cm":412.5}}]}'
    )


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_any_name_is_one_level_of_a_topic(name: str) -> None:
    """No site or line name adds a level, a wildcard or a sign that MQTT forbids."""
    levels = topic("lastlitre", name, "card").split("/")

    assert len(levels) == 4
    assert not set("+#\x00") & set(levels[2])
    assert levels[2].isascii()


def test_unreadable_text_is_set_aside() -> None:
    """Half a surrogate pair cannot be sent: the row is named with the reason, the rest go."""
    bad_word = row(2, "event", {"note": "\ud83d"})
    bad_line = msgspec.structs.replace(reading(3), line_id="\ud83d")
    messages, unfit = pack([reading(1), bad_word, bad_line, reading(4)], "lastlitre", "s")

    assert [message.rows for message in messages] == [(1, 4)]
    assert unfit == {
        2: "note is not readable text",
        3: "its line or cartridge is not readable text",
    }


def test_summary_keeps_the_newest_of_each_kind() -> None:
    """Older rows do not push newer ones out, and each alarm is kept under its own name."""
    alarms = [
        row(11, "alarm", {"alarm": "leak", "change": "raised"}),
        row(12, "alarm", {"alarm": "probe", "change": "raised"}),
        row(13, "alarm", {"alarm": "leak", "change": "cleared"}),
    ]
    newest = newest_of({}, [*readings(8, 10), *alarms, row(14, "event")])
    newest = newest_of(newest, readings(1, 5))
    (message,) = now_messages(newest, "lastlitre", "s")
    now = msgspec.json.decode(message.payload)

    assert message.retain
    assert now["newest"]["reading"]["seq"] == 10
    assert {name: change["seq"] for name, change in now["alarms"].items()} == {
        "leak": 13,
        "probe": 12,
    }
