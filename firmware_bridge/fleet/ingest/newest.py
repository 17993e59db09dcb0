"""How a line stands: the newest estimate and change of each alarm, whatever order they come in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from firmware_bridge.fleet.ingest.persons import without_name
from firmware_bridge.forward.payloads import BatchRow, Card
from firmware_bridge.forward.sink import LineCard

STANDS = frozenset(("unacknowledged", "acknowledged"))
"""States of ISA-18.2 in which the condition of an alarm holds."""
NORMAL = "normal"
PRIORITIES = ("high", "medium", "low")
QUANTILES = ("p05", "p50", "p95")
LARGEST_MS = 2**53
MOST_ALARMS = 200
"""A line has no more alarms than this, by name; what is told of others is kept, not listed."""

_read = msgspec.json.Decoder(BatchRow)
_write = msgspec.json.Encoder()


class Newest(msgspec.Struct):
    """Newest rows as JSON, by kind and by alarm, in the form of the site's own summary."""

    newest: dict[str, msgspec.Raw] = {}
    alarms: dict[str, msgspec.Raw] = {}


class _Numbered(msgspec.Struct):
    seq: int


_newest = msgspec.json.Decoder(Newest)
_numbered = msgspec.json.Decoder(_Numbered)


class LineNow(msgspec.Struct):
    """A line as it stands; `columns` are those of the table that follow from what the site says."""

    line: str
    line_no: int | None
    columns: dict[str, Any]
    newest: Newest
    alarms_changed: bool = False


def line_now(line: str, row: Mapping[str, Any] | None) -> LineNow:
    """The line as it is kept, or a new one."""
    if row is None:
        return LineNow(line, None, dict(EMPTY), Newest())
    columns = {name: row[name] for name in EMPTY}
    return LineNow(line, row["line_no"], columns, _newest.decode(row["newest"]))


def take_row(now: LineNow, kind: str, row: BatchRow) -> None:
    """A row that may be newer than the one the line has."""
    if kind == "alarm":
        name = row.words.get("alarm", "")
        if name not in now.newest.alarms and len(now.newest.alarms) >= MOST_ALARMS:
            return
        if _newer(now.newest.alarms.get(name), row):
            now.newest.alarms[name] = msgspec.Raw(_write.encode(without_name(row)))
            now.alarms_changed = True
        return
    if kind != "estimate" or not _newer(now.newest.newest.get(kind), row):
        return
    now.newest.newest[kind] = msgspec.Raw(_write.encode(without_name(row)))
    _estimate(now.columns, row)


def take_card(now: LineNow, told: LineCard) -> None:
    """What the site's card says of the line."""
    size = told.size or _size_of(told)
    now.columns |= {"medium": told.medium, "size": size, "capacity_mmol": told.capacity_mmol}


def finish(now: LineNow) -> dict[str, Any]:
    """The line's row, its state from what stands: the most urgent alarm, else well or unknown."""
    columns = now.columns
    if now.alarms_changed or columns["state"] in ("unknown", ""):
        urgent = {row.words.get("priority", "") for row in alarm_rows(now) if stands(row)}
        well = "well" if columns["estimate_ms"] is not None else "unknown"
        columns["state"] = next((p for p in PRIORITIES if p in urgent), well)
    return columns | {"newest": _write.encode(now.newest).decode()}


def alarm_rows(now: LineNow) -> list[BatchRow]:
    """The last change of every alarm of the line."""
    return [_read.decode(raw) for raw in now.newest.alarms.values()]


def stands(row: BatchRow) -> bool:
    """Whether an alarm's condition holds and nothing hides it."""
    return row.words.get("state") in STANDS


def lines_of(card: Card) -> dict[str, LineCard]:
    """The lines on a site's card by name."""
    return {line.line_id: line for line in card.lines}


def _newer(kept: msgspec.Raw | None, row: BatchRow) -> bool:
    return kept is None or _numbered.decode(kept).seq < row.seq


def _estimate(columns: dict[str, Any], row: BatchRow) -> None:
    """An estimate's figures; what it does not know any more is not known here either."""
    numbers = row.numbers
    columns["estimate_ms"] = row.at_ms
    if row.cartridge:
        columns["cartridge"] = row.cartridge
    for quantile in QUANTILES:
        columns[f"remaining_l_{quantile}"] = numbers.get(f"remaining_l_{quantile}")
        columns[f"days_left_{quantile}"] = numbers.get(f"days_left_{quantile}")
        columns[f"end_{quantile}_ms"] = _instant(numbers.get(f"end_ms_{quantile}"))
    columns["trusted"] = numbers.get("trusted", 1.0) != 0.0
    columns["ended"] = numbers.get("end_probability")
    columns["ends_by"] = row.words.get("ends_by", "")
    columns["limit_ms"] = _instant(numbers.get("time_limit_ms"))
    columns["outlet_hardness_mmol_l_p50"] = numbers.get("outlet_mmol_l_p50")
    columns["raw_hardness_mmol_l_p50"] = numbers.get("raw_mmol_l_p50")


def _instant(value: float | None) -> int | None:
    return None if value is None or abs(value) > LARGEST_MS else round(value)


def _size_of(told: LineCard) -> str:
    """A size for a cartridge whose size nobody named: what it takes up, or its stated litres."""
    if told.capacity_mmol is not None:
        return f"{told.capacity_mmol:.0f} mmol"
    return f"{told.rated_l:.0f} L" if told.rated_l is not None else ""


EMPTY: dict[str, Any] = {
    "medium": "", "size": "", "capacity_mmol": None, "cartridge": "", "fitted_ms": None,
    "estimate_ms": None,
    **{f"{name}_{q}": None for name in ("remaining_l", "days_left") for q in QUANTILES},
    **{f"end_{q}_ms": None for q in QUANTILES},
    "outlet_hardness_mmol_l_p50": None, "raw_hardness_mmol_l_p50": None,
    "raw_alkalinity_meq_l_p50": None, "state": "unknown",
    "trusted": None, "ended": None, "ends_by": "", "limit_ms": None,
}  # fmt: skip
"""The columns of a line that follow from what the site says, before it has said anything."""
