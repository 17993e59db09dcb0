"""Real payloads with holes: what `payloads.pack` made once, filled with other numbers at C speed.

Every row is a function of its number alone, so that a row sent again is the same to the letter and
a row that was kept can be held against the one that was sent.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Final

import msgspec

from analytics.samples import Estimate, Share, Spread
from firmware_bridge.forward.payloads import BatchRow, Message, pack, topic
from firmware_bridge.store.out_row import OutRow
from firmware_bridge.store.outgoing import estimate_numbers

PREFIX: Final = "lastlitre"
LINE: Final = "bar"
EVERY_S: Final = 10
"""Seconds from one row of a site to its next."""
PATTERN: Final = 60
"""Rows repeat their values after so many."""
ESTIMATE_AT, DRAW_AT = 299, 149
"""Of every 600 numbers these (and 300 more) are an estimate and a draw, where kinds are mixed."""


class Texts(msgspec.Struct, frozen=True):
    """Row texts with two holes (number, instant), one a place of the pattern; then the rest."""

    rows: tuple[bytes, ...]
    estimate: bytes
    draw: bytes


def kind_of(seq: int, mixed: bool) -> str:
    """What kind of row a number stands for."""
    if not mixed:
        return "reading"
    place = seq % 300
    return {ESTIMATE_AT: "estimate", DRAW_AT: "draw"}.get(place, "reading")


def row_text(seq: int, begin_ms: int, mixed: bool) -> bytes:
    """The row of a number as JSON."""
    at_ms = begin_ms + seq * EVERY_S * 1000
    found, kind = texts(), kind_of(seq, mixed)
    if kind == "reading":
        return found.rows[seq % PATTERN] % (seq, at_ms)
    return (found.estimate if kind == "estimate" else found.draw) % (seq, at_ms)


def batch(site: str, first: int, last: int, begin_ms: int, mixed: bool = True) -> tuple[bytes, int]:
    """Payload of rows of one kind from `first` on, at most up to `last`, and the last in it."""
    kind = kind_of(first, mixed)
    until = first
    while until < last and kind_of(until + 1, mixed) == kind:
        until += 1
    rows = b",".join([row_text(seq, begin_ms, mixed) for seq in range(first, until + 1)])
    return _HEAD % (site.encode(), kind.encode(), first, until) + rows + b"]}", until


def topics(site: str) -> dict[str, bytes]:
    """The topic of each kind of a site's rows."""
    names = {"reading": "readings", "estimate": "estimates", "draw": "draws"}
    return {kind: topic(PREFIX, site, LINE, level).encode() for kind, level in names.items()}


@cache
def texts() -> Texts:
    """Made by the program's own packing."""
    readings = [_reading(seq) for seq in range(1, PATTERN + 1)]
    rows = [_holes(text) for text in _rows_of(readings)]
    rows = [rows[-1], *rows[:-1]]  # number n stands at place n % PATTERN
    (estimate,) = (_holes(text) for text in _rows_of([_estimate()]))
    (draw,) = (_holes(text) for text in _rows_of([_draw()]))
    return Texts(tuple(rows), estimate, draw)


_HEAD: Final = b'{"v":1,"site":"%b","line":"bar","kind":"%b","first":%d,"last":%d,"rows":['


def _rows_of(rows: list[OutRow]) -> list[bytes]:
    messages, unfit = pack(rows, PREFIX, "template")
    assert not unfit
    return [text for message in messages for text in _split(message)]


class _Sent(msgspec.Struct):
    rows: list[msgspec.Raw]


def _split(message: Message) -> list[bytes]:
    found = msgspec.json.decode(message.payload, type=_Sent).rows
    return [bytes(raw) for raw in found]


def _holes(text: bytes) -> bytes:
    escaped = text.replace(b"%", b"%%")
    escaped = re.sub(rb'"seq":\d+', b'"seq":%d', escaped, count=1)
    return re.sub(rb'"at_ms":\d+', b'"at_ms":%d', escaped, count=1)


def _reading(seq: int) -> OutRow:
    wave = math.sin(seq / 9.0)
    numbers = {
        "outlet_us_cm": round(312.4 + 3.0 * wave, 1),
        "outlet_temp_c": round(17.2 + 0.4 * wave, 2),
        "inlet_us_cm": round(561.3 + 2.0 * wave, 1),
        "inlet_temp_c": round(16.8 + 0.4 * wave, 2),
        "pulses": 40 + seq % 7 * 13,
    }
    return OutRow(seq=seq, at_ms=seq, kind="reading", line_id=LINE, numbers=numbers)


def _estimate() -> OutRow:
    def about(middle: float, half: float) -> Spread:
        return Spread(p50=middle, p05=round(middle - half, 6), p95=round(middle + half, 6))

    made = Estimate(
        at_ms=1, known_at_ms=1, cartridge_id="C-1", remaining_l=about(1240.0, 310.0),
        used_share=about(0.61, 0.08), used_rows=(), days_left=about(31.0, 8.0), end_ms=None,
        ends_by="capacity", time_limit_ms=None, carbon_left_l=None, outlet_mmol_l=about(0.9, 0.1),
        treated_mmol_l=about(0.2, 0.05), raw_mmol_l=about(2.5, 0.1), target="carbonate",
        bypass=about(0.3, 0.03), litres_passed=1930.0,
        rests_on=Share(litres=0.4, conductivity=0.5, drop_tests=0.1), trusted=True, reason="",
        end_probability=0.001, capacity_share=about(0.98, 0.1),
    )  # fmt: skip
    numbers = estimate_numbers(made)
    words = {"ends_by": "capacity", "target": "carbonate"}
    return OutRow(
        seq=1, at_ms=1, kind="estimate", line_id=LINE, cartridge_id="C-1", numbers=numbers,
        words=words,
    )  # fmt: skip


def _draw() -> OutRow:
    numbers = {
        "end_ms": 1.0, "pulses": 260.0, "pulses_before": 0.0, "still_ms": 61_000.0, "flags": 0.0,
        "outlet_ec25_us_cm": 371.2, "outlet_temp_c": 17.1, "inlet_ec25_us_cm": 659.8,
        "inlet_temp_c": 16.7,
    }  # fmt: skip
    return OutRow(seq=1, at_ms=1, kind="draw", line_id=LINE, cartridge_id="C-1", numbers=numbers)


def read_row(text: bytes) -> BatchRow:
    """A row as a reader of the schema has it."""
    return msgspec.json.decode(text, type=BatchRow)
