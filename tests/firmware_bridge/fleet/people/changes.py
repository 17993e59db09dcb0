"""Changes of alarms as a site sends them."""

from __future__ import annotations

from firmware_bridge.forward.payloads import BatchRow


def alarm_row(
    seq: int, at_ms: int, change: str = "raised", state: str = "unacknowledged"
) -> BatchRow:
    """One change of the alarm that asks for a new cartridge."""
    words = {"alarm": "change-now", "change": change, "state": state, "priority": "high"}
    return BatchRow(seq=seq, at_ms=at_ms, numbers={"remaining_l": 12.0}, words=words)
