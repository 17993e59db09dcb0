"""What a page needs to know about a site, and the door it comes through."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import msgspec

from analytics.samples import AlarmChange, DropTest, Estimate
from analytics.setup import LineSetup, SiteSetup
from dashboards.ways import Way

if TYPE_CHECKING:
    from dashboards.history.record import Record
    from dashboards.history.span import Span
    from dashboards.paper.facts import Cartridge
    from dashboards.paper.make import Made, Wanted
    from dashboards.phrases.reader import Reader

SD_TO_5_95 = 1.6448536
"""Half the width of the 5-95 % range of a normal figure, in standard errors."""


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A live value with its standard error and the instant it was read."""

    value: float
    sd: float
    at_ms: int

    @property
    def low(self) -> float:
        """The 5 % point."""
        return self.value - SD_TO_5_95 * self.sd

    @property
    def high(self) -> float:
        """The 95 % point."""
        return self.value + SD_TO_5_95 * self.sd


class DayLitres(msgspec.Struct, frozen=True, kw_only=True):
    """Litres of one local day that starts at `from_ms`; None where nothing was heard that day.

    `sd_l` is what the flow meter's K-factor leaves open; `shut`: the place does not open that day.
    """

    from_ms: int
    litres: float | None
    sd_l: float
    shut: bool


class LineFacts(msgspec.Struct, frozen=True, kw_only=True):
    """One line as it stands. `live` is keyed by the names of `firmware_bridge.live`."""

    setup: LineSetup
    estimate: Estimate | None
    live: dict[str, Measured]
    every_ms: int
    """The interval of its rows: a value older than three of them is old."""
    days: tuple[DayLitres, ...]
    """Oldest first; the last is today."""
    first_row_ms: int | None
    last_row_ms: int | None
    fitted_ms: int | None = None
    bypass_set: float | None = None
    raw_before_mmol_l: float | None = None
    """Raw hardness before the change of raw water that is open as an alarm."""
    last_test: DropTest | None = None
    alarms: tuple[AlarmChange, ...] = ()
    """Every alarm that is not normal: since when it was raised, `change` as it stands now."""
    closures: tuple[tuple[int, int], ...] = ()
    """Spans (from, until) in which the place is shut beyond its usual hours."""
    lag_ms: int = 0
    """How long after its instant a row may still be on its way here."""
    sees_medium: bool = True
    """Whether conductivity can show this medium's exhaustion with these probes."""


class SiteFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The site at `now_ms` of its own clock, which runs `speed` times as fast as the world's."""

    setup: SiteSetup
    now_ms: int
    lines: tuple[LineFacts, ...]
    speed: float = 1.0
    counters: dict[str, int] = {}
    ways: tuple[Way, ...] = ()


class SiteSource(Protocol):
    """Where pages read a site from."""

    def facts(self) -> SiteFacts:
        """The site now. May wait for the disk; called outside the event loop."""
        ...

    def journal(self, from_ms: int, to_ms: int) -> list[tuple[str, AlarmChange]]:
        """Changes of alarms in [from_ms, to_ms), oldest first, each with its line ("": the box);
        called outside the event loop."""
        ...

    def paper(self, wanted: Wanted, person: Reader, now_ms: int) -> Made:
        """A record or report, set. May take seconds; called outside the event loop."""
        ...

    def was_fitted(self, line_id: str) -> bool:
        """Whether a hand-over record can be made; called outside the event loop."""
        ...

    def cartridges(self, line_id: str, now_ms: int) -> tuple[Cartridge, ...]:
        """Every cartridge that was put in, oldest first; called outside the event loop."""
        ...

    def record(self, line_id: str, span: Span, now_ms: int) -> Record:
        """A line over a span. May wait for the disk; called outside the event loop."""
        ...
