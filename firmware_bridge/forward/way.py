"""How far a sink is along the store: what is safe, what is on its way, what was read."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import msgspec

from firmware_bridge.forward.sink import Parcel, Span
from firmware_bridge.store.out_row import Outbox, OutRow


class _UnderWay(msgspec.Struct, frozen=True):
    up_to: int
    rows: int
    first_ms: int
    since_s: float


class Way:
    """Numbers of one sink: cursor <= read_up_to <= highest ever sent. Instants count any seconds.

    `told` is the far side's last word, None before the first.
    """

    def __init__(self, cursor: int) -> None:
        self.cursor = cursor
        self.read_up_to = cursor
        self.told: int | None = None
        self.rows = 0
        """Rows that were sent and are not yet confirmed."""
        self._highest = cursor
        self._under_way: deque[_UnderWay] = deque()
        self._newest = 0
        self._passed_over = False
        self._next: tuple[int, int] | None = None
        self._progress_s: float | None = None

    def cursor_for(self, durable_up_to: int | None) -> int:
        """Where the far side's word moves the cursor: never past the highest number sent."""
        if durable_up_to is None:
            return self.cursor
        if self.told is None and self._passed_over:
            self._forget_from(self.cursor)  # they come again in their turn
            self.read_up_to = self._highest = self.cursor
            self._passed_over = False
        self.told = durable_up_to
        return min(durable_up_to, self._highest)

    def begin_above(self, number: int) -> None:
        """Nobody has spoken yet: begin with what is new.

        The rows before it wait for the first word; otherwise each start would send everything to
        a broker where nobody may be listening.
        """
        if self.told is None and not self._under_way and number > self.read_up_to:
            self.read_up_to, self._passed_over = number, True

    def move(self, up_to: int, now_s: float) -> int:
        """The cursor is moved; going back means to read on from there. The rows now confirmed."""
        before = self.rows
        self._progress_s = now_s
        if up_to < self.cursor:
            self._forget_from(up_to)
            self.read_up_to = up_to
            before = self.rows
        while self._under_way and self._under_way[0].up_to <= up_to:
            self.rows -= self._under_way.popleft().rows
        self.cursor = up_to
        self.read_up_to = max(self.read_up_to, up_to)
        return before - self.rows

    def sent(self, parcel: Parcel, now_s: float) -> bool:
        """The far side took a parcel; whether it was the first time."""
        if parcel.again:
            return False
        new = parcel.up_to > self._highest
        self.read_up_to = parcel.up_to
        self._highest = max(self._highest, parcel.up_to)
        self._next = None
        first_ms = parcel.rows[0].at_ms if parcel.rows else 0
        self._under_way.append(_UnderWay(parcel.up_to, len(parcel.rows), first_ms, now_s))
        self.rows += len(parcel.rows)
        return new

    def saw(self, rows: Sequence[OutRow]) -> None:
        """These rows come next; numbers before them that no row has do not wait for anything."""
        self._next = (rows[0].seq, rows[0].at_ms) if rows else None

    def backlog(self, newest: int | None) -> int:
        """Rows that are not confirmed: those under way, and the numbers not yet sent."""
        if newest is not None:
            self._newest = newest
        if self._passed_over:
            return max(self._newest - self.cursor, 0)
        first = self._next[0] if self._next else self.read_up_to + 1
        return self.rows + max(self._newest - first + 1, 0)

    @property
    def waits_since_ms(self) -> int | None:
        """The instant of the oldest row that is not confirmed; None where none waits."""
        if self._under_way:
            return self._under_way[0].first_ms
        return self._next[1] if self._next else None

    def unconfirmed_s(self, now_s: float) -> float:
        """How long the oldest row under way has waited without any row being confirmed."""
        if not self._under_way:
            return 0.0
        return now_s - max(self._under_way[0].since_s, self._progress_s or 0.0)

    def _forget_from(self, up_to: int) -> None:
        while self._under_way and self._under_way[-1].up_to > up_to:
            self.rows -= self._under_way.pop().rows


def again(outbox: Outbox, span: Span, limit: int) -> Parcel:
    """The beginning of a span once more; where its rows are gone, the span without them."""
    found = outbox.read(span.after, limit)
    rows = tuple(row for row in found if row.seq <= span.up_to)
    whole = len(rows) < len(found) or not rows
    up_to = span.up_to if whole else rows[-1].seq
    return Parcel(after=span.after, up_to=up_to, rows=rows, again=True)
