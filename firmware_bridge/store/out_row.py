"""What leaves the site: one numbered row of the store, ready for any sink."""

from __future__ import annotations

from typing import Protocol

import msgspec


class OutRow(msgspec.Struct, frozen=True, kw_only=True):
    """One row of the store as every sink sees it.

    `seq` numbers the site's rows without gaps in the order they were stored. `kind` is reading,
    draw, estimate, event or alarm. `numbers` holds finite values only, each with its unit in its
    name; what was blank is absent. `words` holds texts (never sent where a store holds no text).
    `revision` counts the estimates of the same line and instant that were stored before this one.
    """

    seq: int
    at_ms: int
    kind: str
    line_id: str
    cartridge_id: str = ""
    revision: int = 0
    numbers: dict[str, float]
    words: dict[str, str] = {}


class Outbox(Protocol):
    """A sink's way into the store: read on from a number, then say what became of the rows."""

    def read(self, after_seq: int, limit: int) -> list[OutRow]:
        """Rows with `seq` > `after_seq`, oldest first, at most `limit`."""
        ...

    def cursor(self, sink: str) -> int:
        """The last number this sink is done with; 0 when it never ran."""
        ...

    def settle(self, sink: str, up_to_seq: int, rejected: dict[int, str]) -> None:
        """Move the sink's cursor and keep the rejected rows aside with reasons, in one step."""
        ...

    def newest(self) -> int:
        """The highest number given so far."""
        ...
