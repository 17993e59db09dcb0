"""Where the rows of a line's meters come from while it is fitted."""

from __future__ import annotations

from typing import Protocol

from analytics.samples import Rows


class Bench(Protocol):
    """Rows as they were stored: `firmware_bridge.store.reader.Reader`."""

    def rows(self, line_id: str, from_ms: int, to_ms: int) -> Rows:
        """Rows of [from_ms, to_ms)."""
        ...
