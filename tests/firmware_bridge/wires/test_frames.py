"""Frames: what is sent is what is found, and whatever else arrives is counted and does no harm.

CRC check value: "123456789" gives 0x29B1 (CRC-16/IBM-3740, catalogue of parametrised CRCs).
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware import frames, wires

U16 = st.integers(0, 2**16 - 1)
U32 = st.integers(0, 2**32 - 1)
I32 = st.integers(-(2**31), 2**31 - 1)
U48 = st.integers(0, 2**48 - 1)
TEXT = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=frames.TEXT_MAX)

ANY_FRAME = st.one_of(
    st.builds(frames.Data, U16, U32, U32, U48, U32, U32, I32, U32, I32, U32, U32),
    st.builds(frames.RowRange, st.sampled_from((frames.GONE, frames.RESEND)), U16, U32, U32, U32),
    st.builds(frames.Confirm, U16, U32, U32),
    st.builds(frames.Hello, U16, U32, U48, U32, U32, U32, TEXT),
    st.builds(frames.Ask, st.sampled_from((frames.HELLO_ASK, frames.SELFTEST_ASK)), U16, TEXT),
    st.builds(
        frames.Setup,
        st.sampled_from((frames.SETUP, frames.SETUP_ANSWER)),
        U16,
        st.integers(0, 255),
        TEXT,
        TEXT,
    ),
    st.builds(frames.SelfTest, U16, U32, U48, U32, U32, TEXT),
)


def content(found: list[frames.Frame]) -> list[tuple[int, dict[str, object]]]:
    """Frames as something that can be compared."""
    return [(frame.kind, vars(frame)) for frame in found]


def some_row(seq: int = 1) -> frames.Data:
    """A plain row of node 1, boot 7."""
    return frames.Data(1, 7, seq, 60_000 * seq, 0, 65_050, 23_110, 84_650, 22_830, 1000 + seq, 0)


def test_crc_has_its_published_check_value() -> None:
    """Both ways to the CRC give the catalogue's check value."""
    assert wires.crc16(b"123456789") == 0x29B1
    assert wires.crc_by_nibbles(b"123456789") == 0x29B1


@given(st.binary(max_size=300))
def test_both_ways_to_the_crc_agree(data: bytes) -> None:
    """The node's own CRC equals the host's for any bytes."""
    assert wires.crc_by_nibbles(data) == wires.crc16(data)


@given(st.lists(ANY_FRAME, max_size=8))
def test_what_is_sent_is_what_is_found(sent: list[frames.Frame]) -> None:
    """Frames of every kind come back whole and in order, and nothing is counted as damage."""
    parser = frames.Parser()

    found = parser.feed(b"".join(frame.wire() for frame in sent))

    assert content(found) == content(sent)
    assert parser.counts["frames"] == len(sent)
    assert parser.damaged() == 0


@given(st.binary(max_size=2000), st.lists(st.integers(0, 2000), max_size=30))
def test_cutting_into_chunks_changes_nothing(noise: bytes, cuts: list[int]) -> None:
    """Frames among noise: however the bytes are cut, frames and counts are the same."""
    stream = noise[:700] + some_row(1).wire() + noise[700:] + some_row(2).wire() + b"\0"
    whole = frames.Parser()
    expected = content(whole.feed(stream))
    edges = [0, *sorted(min(cut, len(stream)) for cut in cuts), len(stream)]
    pieces = frames.Parser()

    found: list[frames.Frame] = []
    for start, stop in pairwise(edges):
        found += pieces.feed(stream[start:stop])

    assert content(found) == expected
    assert pieces.counts == whole.counts


@given(st.binary(max_size=600))
def test_noise_before_a_frame_does_not_cost_the_frame(noise: bytes) -> None:
    """A sound frame is found after any bytes, because a zero stands before it too."""
    parser = frames.Parser()

    found = parser.feed(noise + some_row().wire())

    assert content(found)[-1:] == content([some_row()])


@given(ANY_FRAME, st.data())
def test_up_to_three_turned_bits_are_noticed(frame: frames.Frame, data: st.DataObject) -> None:
    """A frame with one to three wrong bits is never taken for a frame of the same length."""
    good = frame.wire()
    bits = data.draw(
        st.sets(st.integers(8, 8 * (len(good) - 1) - 1), min_size=1, max_size=3), label="bits"
    )
    bad = bytearray(good)
    for bit in bits:
        bad[bit // 8] ^= 1 << (bit % 8)
    parser = frames.Parser()

    found = parser.feed(bytes(bad))

    assert content([frame]) != content(found)
    assert not [f for f in found if f.kind == frames.DATA]
    assert parser.damaged() >= 1


@pytest.mark.parametrize(
    ("piece", "kind"),
    [
        (b"\x03\x01\x02", "short"),
        (b"x" * 256, "oversize"),
        (b"x" * 5000, "oversize"),
        (b"\x09" + b"abcdefghijkl", "bad_code"),
        (wires.wrap(some_row().pack())[1:-2] + b"\x55", "bad_crc"),
        (wires.wrap(some_row().pack() + b"z")[1:-1], "bad_length"),
        (wires.wrap(b"\x01\x02\x01\x00rest")[1:-1], "other_version"),
        (wires.wrap(b"\x7f\x01\x01\x00rest")[1:-1], "unknown_kind"),
        (wires.wrap(b"\x22\x01\x01\x00\xff")[1:-1], "bad_length"),
    ],
)
def test_every_kind_of_damage_has_its_own_count(piece: bytes, kind: str) -> None:
    """A damaged piece is counted once, under what is wrong with it; the next frame is found."""
    parser = frames.Parser()

    found = parser.feed(piece + some_row().wire())

    assert parser.counts[kind] == 1
    assert parser.damaged() == 1
    assert content(found) == content([some_row()])


def test_bytes_without_an_end_do_not_pile_up() -> None:
    """A line stuck at one byte is counted once, and the first frame after it is found."""
    parser = frames.Parser()

    for _ in range(1000):
        parser.feed(b"\xff" * 100)
    found = parser.feed(some_row().wire())

    assert parser.counts["oversize"] == 1
    assert content(found) == content([some_row()])


def test_a_frame_too_long_to_send_is_refused() -> None:
    """A body of 252 bytes goes through whole; a longer one is refused before it is sent."""
    longest = b"\x01" * wires.MAX_BODY

    assert wires.unwrap(wires.wrap(longest)[1:-1]) == (longest, "")
    with pytest.raises(ValueError, match="too long"):
        wires.wrap(longest + b"\x01")
