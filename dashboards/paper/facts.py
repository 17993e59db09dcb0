"""What papers tell of a line: its cartridges, how each stood at its end, days that were right."""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    CrossZero,
    DropTest,
    Estimate,
    KFactorSet,
    ProbeCalibrated,
)
from analytics.setup import LineSetup, LocalTime
from dashboards.history.record import Record
from dashboards.phrases.times import local_day
from dashboards.site_reader import SiteReader

CALIBRATIONS = (KFactorSet, ProbeCalibrated, CrossZero)


class Cartridge(msgspec.Struct, frozen=True, kw_only=True):
    """One cartridge of a line: fitted, and taken out (None: it is in). `last` is the estimate of
    its last hours as known then; `most_used` the one at which it was used the most."""

    fitted: CartridgeFitted
    until_ms: int | None
    last: Estimate | None
    most_used: Estimate | None

    @property
    def days(self) -> float | None:
        """How long it was in."""
        return None if self.until_ms is None else (self.until_ms - self.fitted.at_ms) / DAY_MS


def cartridges(reader: SiteReader, line_id: str, now_ms: int) -> tuple[Cartridge, ...]:
    """Every cartridge that was put in, oldest first."""
    fitted = [e for e in reader.events(line_id, to_ms=now_ms) if isinstance(e, CartridgeFitted)]
    ends: list[CartridgeFitted | None] = [*fitted[1:], None][: len(fitted)]
    return tuple(
        _cartridge(reader, line_id, this, after, now_ms)
        for this, after in zip(fitted, ends, strict=True)
    )


def _cartridge(
    reader: SiteReader,
    line_id: str,
    fitted: CartridgeFitted,
    after: CartridgeFitted | None,
    now_ms: int,
) -> Cartridge:
    until_ms = after.at_ms if after else None
    end_ms = now_ms if until_ms is None else until_ms
    found = reader.estimates_sampled(line_id, fitted.at_ms, end_ms, 6 * HOUR_MS)
    used = [-1.0 if e.used_share is None else e.used_share.p50 for e in found]
    return Cartridge(
        fitted=fitted,
        until_ms=until_ms,
        last=found[-1] if found else None,
        most_used=found[int(np.argmax(used))] if found else None,
    )


class RightDays(msgspec.Struct, frozen=True, kw_only=True):
    """Local days of a span on which the machine's water was known, and on how many of them it was
    right: no harder than the line's limit all day."""

    known: int
    right: int


def right_days(record: Record, local: LocalTime) -> RightDays | None:
    """Days on which the water was right; None where the line has no limit."""
    limit = record.line.limits.outlet_high_mmol_l
    if limit is None:
        return None
    worst: dict[object, float] = {}
    for at_ms, spread in record.hardness:
        day = local_day(local, at_ms)
        worst[day] = max(worst.get(day, 0.0), spread.p50)
    return RightDays(known=len(worst), right=sum(v <= limit for v in worst.values()))


def last_of(events: tuple[AnyEvent, ...] | list[AnyEvent], kind: type) -> AnyEvent | None:
    """The last event of a kind."""
    found = [e for e in events if isinstance(e, kind)]
    return found[-1] if found else None


def calibrations(events: list[AnyEvent], at_ms: int) -> list[tuple[AnyEvent, float]]:
    """The last check of each meter before an instant, with its age in days."""
    latest: dict[tuple[type, str], AnyEvent] = {}
    for event in events:
        if isinstance(event, CALIBRATIONS) and event.at_ms <= at_ms:
            latest[type(event), getattr(event, "probe", "")] = event
    return [(event, (at_ms - event.at_ms) / DAY_MS) for event in latest.values()]


def drop_tests(events: list[AnyEvent]) -> list[DropTest]:
    """All drop tests."""
    return [e for e in events if isinstance(e, DropTest)]


def bypass_set(events: list[AnyEvent], line: LineSetup, at_ms: int) -> float:
    """The bypass as it was set at an instant."""
    found = last_of([e for e in events if e.at_ms <= at_ms], BypassSet)
    return found.share if isinstance(found, BypassSet) else line.bypass


def silent_ms(record: Record) -> int:
    """How long the meters were silent in all."""
    return sum(g.until_ms - g.from_ms for g in record.gaps if g.what == "meters")
