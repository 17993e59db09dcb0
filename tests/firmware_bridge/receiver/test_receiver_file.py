"""The receiver's file: every row once, whatever comes in whatever order."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware_bridge.forward.payloads import card_message, gone_message, pack
from firmware_bridge.receiver.keeping import Keeping
from firmware_bridge.receiver.words import Incoming
from firmware_bridge.store.out_row import OutRow
from tests.firmware_bridge.forward.outbox import CARD, reading, readings, row

SITE = CARD.site_id


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Keeping]:
    """A new file."""
    keeping = Keeping(tmp_path / "receiver.db", "lastlitre")
    yield keeping
    keeping.close()


def messages(rows: list[OutRow]) -> list[Incoming]:
    """Rows as they come over the wire."""
    packed, unfit = pack(rows, "lastlitre", SITE)
    assert not unfit
    return [Incoming(message.topic, message.payload) for message in packed]


def gone(*spans: tuple[int, int]) -> Incoming:
    """Numbers that never come."""
    message = gone_message(spans, "lastlitre", SITE)
    return Incoming(message.topic, message.payload)


def test_doubled_late_and_shuffled_messages_are_kept_once(kept: Keeping) -> None:
    """In any order and however often, each row is there once, as it was."""
    others = [row(901, "draw", litres=0.25), row(902, "alarm", {"alarm": "leak"})]
    coming = messages([*readings(1, 600), *readings(601, 900, "mill/1"), *others]) * 3
    random.Random(4).shuffle(coming)
    for incoming in coming:
        assert kept.take([incoming], 0) == {SITE}

    assert kept.numbers(SITE) == list(range(1, 903))
    assert kept.sites() == {SITE: 902}
    assert kept.doubled == 2 * 902
    assert kept.aside() == []
    found = {k.row.seq: (k.line, k.kind, k.row.numbers, k.row.words) for k in kept.rows(SITE)}
    assert found[700] == ("mill/1", "reading", reading(700).numbers, {})
    assert found[902] == ("bar", "alarm", {}, {"alarm": "leak"})


def test_only_rows_and_new_sites_wait_for_an_answer(kept: Keeping) -> None:
    """A summary of a known site needs no confirmation; a site heard for the first time does."""
    card = card_message(CARD, "lastlitre")
    said = Incoming(card.topic, card.payload)

    assert kept.take([said], 0) == {SITE}
    assert kept.take([said], 0) == set()
    assert kept.take(messages(readings(1, 3)), 0) == {SITE}
    assert kept.take(messages(readings(1, 3)), 0) == {SITE}
    assert kept.sites() == {SITE: 3}


def test_gap_holds_the_number_back(kept: Keeping) -> None:
    """What is safe ends before the first missing number, and the gap is named."""
    kept.take(messages(readings(1, 60) + readings(81, 100)), 0)
    assert kept.sites() == {SITE: 60}
    assert kept.missing(SITE, 9) == [(61, 80)]
    kept.take(messages(readings(61, 80)), 0)
    assert kept.sites() == {SITE: 100}
    assert kept.missing(SITE, 9) == []


def test_numbers_that_never_come_are_no_gap(kept: Keeping) -> None:
    """The site's word that numbers are gone closes the gap; a row of them is still welcome."""
    kept.take([*messages(readings(1, 10) + readings(21, 30)), gone((11, 15), (16, 20))], 0)
    assert kept.sites() == {SITE: 30}
    kept.take(messages(readings(14, 14)), 0)

    assert kept.numbers(SITE) == [*range(1, 11), 14, *range(21, 31)]


def test_number_with_other_content_goes_aside(kept: Keeping) -> None:
    """A number that comes again as another row does not replace the first, and is not lost."""
    kept.take(messages(readings(1, 10)), 0)
    kept.take(messages([reading(7, outlet_us_cm=1.0)]), 5)

    assert kept.rows(SITE)[6].row.numbers == reading(7).numbers
    (aside,) = kept.aside()
    assert aside.reason == "number 7 is another row already"
    assert b'"outlet_us_cm":1.0' in aside.payload


@pytest.mark.parametrize(
    ("topic", "payload", "reason"),
    [
        ("lastlitre/v1/s/bar/readings", b"\xff\x00", "malformed"),
        ("lastlitre/v1/s/bar/readings", b"{}", "missing required field"),
        ("lastlitre/v1/s/bar/rumours", b"{}", "none of ours"),
        ("lastlitre/v1/s", b"{}", "none of ours"),
        ("lastlitre/v1/s/card", b'{"site":"t","name":"","service":"","lines":[]}', "site 't'"),
        ("lastlitre/v1/s/online", b'{"v":2,"site":"s","online":true}', "version 2"),
        ("lastlitre/v1/s/gone", b'{"site":"s","spans":[[5,4]]}', "no numbers"),
        ("lastlitre/v1/s/gone", b'{"site":"s","spans":[[1,1e300]]}', "Expected"),
        (
            "lastlitre/v1/s/bar/readings",
            b'{"site":"s","line":"bar","kind":"draw","first":1,"last":1,"rows":[{"seq":1,'
            b'"at_ms":1,"numbers":{}}]}',
            "kind 'draw'",
        ),
        (
            "lastlitre/v1/s/bar/readings",
            b'{"site":"s","line":"bar","kind":"reading","first":1,"last":9,"rows":[{"seq":1,'
            b'"at_ms":1,"numbers":{}}]}',
            "first and last",
        ),
        (
            "lastlitre/v1/s/bar/readings",
            b'{"site":"s","line":"bar","kind":"reading","first":1,"last":1,"rows":[{"seq":1,'
            b'"at_ms":1,"numbers":{"litres":NaN}}]}',
            "malformed",
        ),
        ("lastlitre/v1/s/bar/readings", b" " * 1_000_001, "1000001 bytes"),
    ],
)
def test_poison_is_kept_aside_with_its_reason(
    kept: Keeping, topic: str, payload: bytes, reason: str
) -> None:
    """What makes no sense hurts nothing that came with it, and can be looked at."""
    good = messages(readings(1, 5))
    kept.take([*good, Incoming(topic, payload)], 77)

    assert kept.numbers(SITE) == [1, 2, 3, 4, 5]
    (aside,) = kept.aside()
    assert reason in aside.reason
    assert payload.startswith(aside.payload)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["s/card", "s/bar/now", "s/bar/readings", "s/gone", "s/durable", "/"]),
            st.binary(max_size=60) | st.text(max_size=40).map(str.encode),
        ),
        max_size=20,
    )
)
def test_no_bytes_break_it(kept: Keeping, found: list[tuple[str, bytes]]) -> None:
    """Any bytes on any topic are taken without a fault."""
    kept.take([Incoming(f"lastlitre/v1/{topic}", payload) for topic, payload in found], 0)


def test_file_opened_again_knows_what_it_has(tmp_path: Path) -> None:
    """Spans and rows outlive the process."""
    path = tmp_path / "receiver.db"
    first = Keeping(path, "lastlitre")
    first.take(messages(readings(1, 60) + readings(90, 95)), 0)
    first.close()
    second = Keeping(path, "lastlitre")

    assert second.sites() == {SITE: 60}
    assert second.missing(SITE, 5) == [(61, 89)]
    second.take(messages(readings(50, 89)), 0)
    assert second.numbers(SITE) == list(range(1, 96))
    second.close()
