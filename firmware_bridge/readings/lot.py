"""What a driver hands on in one go, and what it needs to know when it starts again."""

from __future__ import annotations

import msgspec

from firmware_bridge.store.batch import Taken


class Lot(msgspec.Struct, frozen=True, kw_only=True):
    """Rows that are to become durable together with `state`, all or nothing.

    `state` is what the driver is given back at its next start; keep it under `state_key` in the
    same commit (as a snapshot at instant 0, it replaces the one before). `counters` are what was
    refused, doubled or lost since the lot before. A lot that could not be stored is stored later;
    it is never thrown away, because the driver hands out each row once.
    """

    line_id: str
    taken: tuple[Taken, ...]
    state: bytes
    counters: dict[str, int]
    meter_id: str = ""
    """Which of several meters of the line it is from."""

    @property
    def state_key(self) -> str:
        """The name under which `state` is kept."""
        return state_key(self.line_id, self.meter_id)


def state_key(line_id: str, meter_id: str = "") -> str:
    """The name under which the state of a line's driver is kept."""
    return f"{line_id}/wire" + (f"/{meter_id}" if meter_id else "")


class WireState(msgspec.Struct, frozen=True, kw_only=True):
    """Where a node's rows have been handed on to: the last row, its count and its instant."""

    boot: int
    seq: int
    uptime_ms: int
    at_ms: int
    offset_ms: float | None
    counts: tuple[int | None, int, int]
    """Count of the last row that had one, with that row's boot and instant."""


def packed(state: WireState) -> bytes:
    """The state as bytes."""
    return msgspec.json.encode(state)


def unpacked(state: bytes) -> WireState | None:
    """The state from bytes; None when there is none or it cannot be read."""
    if not state:
        return None
    try:
        return msgspec.json.decode(state, type=WireState)
    except (msgspec.DecodeError, msgspec.ValidationError):
        return None
