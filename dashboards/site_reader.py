"""What histories and papers read of a site: its own file, or what a fleet has received of it."""

from __future__ import annotations

from typing import Protocol

from analytics.samples import AnyEvent, Draws, Estimate
from firmware_bridge.store.alarms import KnownChange
from firmware_bridge.store.chain import Entry
from firmware_bridge.store.draws import DrawSums
from firmware_bridge.store.events import FAR_MS
from firmware_bridge.store.series import Series


class SiteReader(Protocol):
    """Each answer is as known now; see `firmware_bridge.store.reader.Reader`."""

    def span(self, line_id: str) -> tuple[int, int] | None:
        """The instants of the line's first and last row."""
        ...

    def events(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[AnyEvent]:
        """Events that hold, of the line and of the whole site, by date."""
        ...

    def logbook(self, newest: int | None = None) -> list[Entry]:
        """Entries in the order they were written."""
        ...

    def draws(self, line_id: str, from_ms: int, to_ms: int) -> Draws:
        """Draws that begin in [from_ms, to_ms)."""
        ...

    def draw_sums(self, line_id: str, from_ms: int, to_ms: int, width_ms: int) -> DrawSums:
        """Draws that begin in [from_ms, to_ms), by spans counted from 1970."""
        ...

    def series(self, line_id: str, channel: str, from_ms: int, to_ms: int, points: int) -> Series:
        """A channel in [from_ms, to_ms) in about so many spans."""
        ...

    def latest_estimate(self, line_id: str) -> Estimate | None:
        """The newest estimate."""
        ...

    def estimates(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Estimates for instants in [from_ms, to_ms)."""
        ...

    def estimates_sampled(
        self, line_id: str, from_ms: int, to_ms: int, width_ms: int
    ) -> list[Estimate]:
        """The last of every span of `width_ms`."""
        ...

    def estimates_as_stored(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Every one, revised ones too, in the order they were made."""
        ...

    def alarm_changes(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[KnownChange]:
        """Changes of alarms in the order they were stored."""
        ...
