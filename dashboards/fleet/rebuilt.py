"""Rows of a site's stream brought back to what they were at the site, as far as the stream tells.

Estimates travel without the particles' rows, remarks and sharpeners: the rows are drawn anew from
the range that was sent, the others are left out. What does not make sense is passed over: a row
that one line of a chart cannot use must not cost the page.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import msgspec
import numpy as np

from analytics.fleet.chances import chances_of_end_by
from analytics.samples import (
    DRAW_COLUMNS,
    DRAW_WHOLE,
    AlarmChange,
    AnyEvent,
    Draws,
    Estimate,
    Share,
    Spread,
)
from firmware_bridge.forward.payloads import BatchRow

ROWS = 33
"""Rows of the bed that are drawn: 30 to the end line, 3 beyond."""
_SPREADS = ("remaining_l", "used_share", "days_left", "end_ms", "outlet_mmol_l", "treated_mmol_l",
            "raw_mmol_l", "bypass")  # fmt: skip


def estimate_of(row: BatchRow) -> Estimate | None:
    """The estimate of a row; None where it makes no sense."""
    numbers, words = row.numbers, row.words
    try:
        spreads: dict[str, Any] = {name: _spread(numbers, name) for name in _SPREADS}
        return Estimate(
            at_ms=row.at_ms,
            known_at_ms=_whole(numbers, "known_at_ms") or row.at_ms,
            cartridge_id=row.cartridge,
            **spreads,
            used_rows=_used_rows(spreads["used_share"]),
            ends_by=words.get("ends_by", ""),
            time_limit_ms=_whole(numbers, "time_limit_ms"),
            carbon_left_l=numbers.get("carbon_left_l"),
            target=words.get("target", ""),
            litres_passed=numbers.get("litres_passed", 0.0),
            rests_on=Share(
                litres=numbers.get("rests_on_litres", 0.0),
                conductivity=numbers.get("rests_on_conductivity", 0.0),
                drop_tests=numbers.get("rests_on_drop_tests", 0.0),
            ),
            trusted=numbers.get("trusted", 1.0) != 0.0,
            reason=words.get("reason", ""),
            end_probability=numbers.get("end_probability", 0.0),
            change=words.get("change", ""),
            change_ms=_whole(numbers, "change_ms"),
            change_probability=numbers.get("change_probability", 0.0),
            change_reason=words.get("change_reason", ""),
        )
    except (ValueError, OverflowError):
        return None


def event_of(row: BatchRow, line: str, who: str | None) -> AnyEvent | None:
    """An entry of the logbook; None where it makes no sense. An erased name is left out."""
    told: dict[str, Any] = {**row.words, "line_id": line, "who": who or "", "at_ms": row.at_ms}
    told.pop("digest", None)
    told["kind"] = told.pop("event", "")
    whole = _whole_fields().get(str(told["kind"]), frozenset())
    told |= {k: round(v) if k in whole else v for k, v in row.numbers.items()}
    if told["kind"] == "cartridge-fitted":
        told["cartridge_id"] = row.cartridge
    try:
        found: AnyEvent = msgspec.convert(told, AnyEvent)
    except (msgspec.ValidationError, OverflowError):
        return None
    return found


def change_of(row: BatchRow) -> AlarmChange | None:
    """A change of an alarm without the name of who made it, which stands in the logbook; None
    where it makes no sense."""
    numbers = dict(row.numbers)
    until = numbers.pop("until_ms", None)
    told: dict[str, Any] = {**row.words, "at_ms": row.at_ms, "numbers": numbers, "who": ""}
    try:
        told["until_ms"] = None if until is None else round(until)
        return msgspec.convert(told, AlarmChange)
    except (msgspec.ValidationError, OverflowError):
        return None


def draws_of(rows: list[BatchRow]) -> Draws:
    """Draws in order of time; whole columns that are missing count as nothing."""
    built: dict[str, Any] = {}
    for name in DRAW_COLUMNS:
        if name == "start_ms":
            built[name] = np.array([row.at_ms for row in rows], dtype=np.int64)
        elif name in DRAW_WHOLE:
            values = [round(row.numbers.get(name, 0)) for row in rows]
            built[name] = np.array(values, dtype=np.int64)
        else:
            values_ = [row.numbers.get(name, np.nan) for row in rows]
            built[name] = np.array(values_, dtype=np.float64)
    return Draws(**built)


def holding(rows: list[tuple[int, str, BatchRow]]) -> list[BatchRow]:
    """Of rows in the order of their coming those that hold: one that came later speaks for
    everything from its instant on."""
    kept: list[BatchRow] = []
    for _, _, row in rows:
        while kept and kept[-1].at_ms >= row.at_ms:
            kept.pop()
        kept.append(row)
    return kept


def _spread(numbers: dict[str, float], name: str) -> Spread | None:
    found = [numbers.get(f"{name}_{point}") for point in ("p05", "p50", "p95")]
    if any(value is None for value in found):
        return None
    p05, p50, p95 = (float(value or 0.0) for value in found)
    return Spread(p05=min(p05, p50), p50=p50, p95=max(p95, p50))


def _used_rows(used: Spread | None) -> tuple[float, ...]:
    """Chance that the used share exceeds (k + 0.5) / 30 for each row of the bed."""
    if used is None:
        return ()
    edges = (np.arange(ROWS) + 0.5) / 30.0
    return tuple((1.0 - chances_of_end_by(used.p05, used.p50, used.p95, edges)).tolist())


def _whole(numbers: dict[str, float], name: str) -> int | None:
    value = numbers.get(name)
    return None if value is None else round(value)


@cache
def _whole_fields() -> dict[str, frozenset[str]]:
    """Fields that are whole numbers, by kind of event."""
    kinds = AnyEvent.__args__
    return {
        str(kind.__struct_config__.tag): frozenset(
            field.name
            for field in msgspec.structs.fields(kind)
            if field.type is int or "int" in str(field.type).split(" | ")
        )
        for kind in kinds
    }
