"""A counter that counts for ever, as pulses since the row before."""

from __future__ import annotations

import msgspec

from analytics.samples import NO_COUNT, Flag

WRAP = 2**32


class Counted(msgspec.Struct, frozen=True):
    """Pulses since the row before (NO_COUNT: not known), and what is known against the number."""

    pulses: int
    flags: Flag = Flag.GOOD


class Counting:
    """The count of one meter from row to row.

    `most_a_second` is more than the meter can ever give: what lies beyond is no water. One count
    that cannot be is passed over and costs nothing; when the next one follows on it, the counter
    did jump, and is counted on from there. `count`, `boot` and `at_ms` say where an earlier run
    left off. The counter begins anew after `wrap` - 1; where it could have gone round more than
    once since the row before, what is left over is counted and doubted.
    """

    def __init__(self, most_a_second: float = 2000.0, wrap: int = WRAP) -> None:
        self.most_a_second = most_a_second
        self.wrap = wrap
        self.count: int | None = None
        self.boot = 0
        self.at_ms = 0
        self.resets = 0
        self.absurd = 0
        self.jumped: tuple[int, int] | None = None
        self._doubted: tuple[int, int] | None = None

    def next(self, count: int, boot: int, at_ms: int, *, anew: bool = False) -> Counted:
        """The next row's count, in order of rows. `anew`: the node says it began at 0."""
        if self.count is None:
            return self._take(count, boot, at_ms, Counted(0))
        room = self._room(at_ms - self.at_ms)
        on = (count - self.count) % self.wrap
        same_boot = boot == self.boot
        if on <= room and (same_boot or not anew):
            return self._take(count, boot, at_ms, Counted(on, self._round_more(room)))
        if not same_boot and (anew or count < self.count):
            return self._take(count, boot, at_ms, self._began_anew(count, room))
        return self._doubt(count, boot, at_ms)

    def _take(self, count: int, boot: int, at_ms: int, counted: Counted) -> Counted:
        self.count, self.boot, self.at_ms = count, boot, at_ms
        self._doubted = None
        return counted

    def _room(self, passed_ms: int) -> float:
        return self.most_a_second * (max(passed_ms, 0) / 1000.0 + 2.0)

    def _round_more(self, room: float) -> Flag:
        """A doubt where a counter of few bits may have gone round unseen."""
        return Flag.FLOW_SUSPECT if self.wrap < WRAP and room >= self.wrap else Flag.GOOD

    def _began_anew(self, count: int, room: float) -> Counted:
        """The node forgot its count at a start: what stands there now was counted since."""
        self.resets += 1
        if count <= room:
            return Counted(count, Flag.COUNTER_RESET)
        self.absurd += 1
        return Counted(NO_COUNT, Flag.COUNTER_RESET | Flag.FLOW_SUSPECT)

    def _doubt(self, count: int, boot: int, at_ms: int) -> Counted:
        self.absurd += 1
        if self._doubted is not None:
            doubted, doubted_ms = self._doubted
            on = (count - doubted) % self.wrap
            if on <= self._room(at_ms - doubted_ms):
                self.jumped = (self.count or 0, doubted)
                return self._take(count, boot, at_ms, Counted(on, Flag.FLOW_SUSPECT))
        self._doubted = (count, at_ms)
        return Counted(NO_COUNT, Flag.FLOW_SUSPECT)
