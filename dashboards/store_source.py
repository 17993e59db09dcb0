"""A site's facts from its store and its live values."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from itertools import pairwise
from typing import TypeVar

import numpy as np

from analytics.bed import sees_little
from analytics.opening import opens_on
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AlarmChange,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    DropTest,
    KFactorSet,
    Point,
)
from analytics.setup import Closures, LineSetup, SiteSetup
from dashboards.commissioning.notebook import Notebook
from dashboards.history.record import Record, record_of
from dashboards.history.span import Span
from dashboards.open_alarms import open_alarms
from dashboards.paper.facts import Cartridge, cartridges
from dashboards.paper.make import Made, Wanted, make
from dashboards.phrases.reader import Reader as Person
from dashboards.phrases.times import local_day, local_midnight
from dashboards.sources import DayLitres, LineFacts, Measured, SiteFacts
from dashboards.state import RAW_CHANGED
from dashboards.ways import Way
from firmware_bridge.clock import Clock
from firmware_bridge.live import FLOW, LIVE_NAMES, Live
from firmware_bridge.store.reader import Reader

Kind = TypeVar("Kind", bound=AnyEvent)

WEEK = 7
K_FACTOR_SD = 0.03
"""Spread of a K-factor that was read from a plate; common practice, no source."""
LAG_S = 4.0
"""Real time within which a row is on the disk and on the page."""
ALARM_SPAN_MS = 400 * DAY_MS
BEFORE_CHANGE_MS = DAY_MS


class StoreSource:
    """Reads what a page needs. `clock` is the site's; `speed` says how fast it runs, `ways`
    how what leaves the box is doing."""

    def __init__(
        self,
        setup: SiteSetup,
        reader: Reader,
        live: Live,
        clock: Clock,
        speed: Callable[[], float] = lambda: 1.0,
        ways: Callable[[], tuple[Way, ...]] = tuple,
    ) -> None:
        self._setup = setup
        self._reader = reader
        self._live = live
        self._clock = clock
        self._speed = speed
        self._ways = ways

    def facts(self) -> SiteFacts:
        """The site now; raises StoreError where the file cannot be read."""
        now_ms = self._clock.now_ms()
        return SiteFacts(
            setup=self._setup,
            now_ms=now_ms,
            ways=self._ways(),
            lines=tuple(self._line(line, now_ms) for line in self._setup.lines),
            speed=self._speed(),
            counters=self._reader.counters(),
        )

    def journal(self, from_ms: int, to_ms: int) -> list[tuple[str, AlarmChange]]:
        """Changes of alarms in [from_ms, to_ms), oldest first; raises StoreError."""
        found = self._reader.alarm_changes(from_ms=from_ms, to_ms=to_ms)
        return [(known.line_id, known.change) for known in found]

    def paper(self, wanted: Wanted, person: Person, now_ms: int) -> Made:
        """A record or report, set; raises PaperAskedError, PaperError, StoreError."""
        return make(self._reader, self._setup, person, now_ms, wanted)

    def was_fitted(self, line_id: str) -> bool:
        """Whether somebody fitted this line by the page; raises StoreError."""
        return Notebook(self._reader.path).has(line_id)

    def cartridges(self, line_id: str, now_ms: int) -> tuple[Cartridge, ...]:
        """Every cartridge that was put in, oldest first; raises StoreError."""
        return cartridges(self._reader, line_id, now_ms)

    def record(self, line_id: str, span: Span, now_ms: int) -> Record:
        """A line over a span; raises StoreError where the file cannot be read."""
        line = next(line for line in self._setup.lines if line.line_id == line_id)
        lag_ms = round(LAG_S * 1000 * self._speed())
        return record_of(self._reader, self._setup, line, span, now_ms, lag_ms)

    def _line(self, line: LineSetup, now_ms: int) -> LineFacts:
        line_id = line.line_id
        events = self._reader.events(line_id, to_ms=now_ms + 1)
        closures = _all(self._reader.events(line_id), Closure)
        stored = self._reader.alarm_changes(line_id, now_ms - ALARM_SPAN_MS, now_ms + 1)
        alarms = open_alarms([known.change for known in stored], events, now_ms)
        first, last = self._span(line_id)
        fitted, bypass = _last(events, CartridgeFitted), _last(events, BypassSet)
        blended = [t for t in _all(events, DropTest) if t.point is Point.BLENDED]
        spans = tuple((c.at_ms, c.until_ms) for c in closures)
        return LineFacts(
            setup=line,
            estimate=self._reader.latest_estimate(line_id),
            live=self._measured(line, events),
            every_ms=1000,
            days=self._days(line, events, spans, now_ms),
            first_row_ms=first,
            last_row_ms=last,
            fitted_ms=fitted.at_ms if fitted else None,
            bypass_set=bypass.share if bypass else None,
            raw_before_mmol_l=self._raw_before(line_id, alarms),
            last_test=blended[-1] if blended else None,
            alarms=alarms,
            closures=spans,
            sees_medium=not (line.outlet_probe and sees_little(line.medium)),
            lag_ms=round(LAG_S * 1000 * self._speed()),
        )

    def _span(self, line_id: str) -> tuple[int | None, int | None]:
        """Instants of the first and the newest row, the newest perhaps not yet on the disk."""
        stored = self._reader.span(line_id)
        seen = list(self._live.latest(line_id).at_ms.values())
        if stored is None:
            return (min(seen), max(seen)) if seen else (None, None)
        return stored[0], max([stored[1], *seen])

    def _measured(self, line: LineSetup, events: list[AnyEvent]) -> dict[str, Measured]:
        latest = self._live.latest(line.line_id)
        found: dict[str, Measured] = {}
        for name in LIVE_NAMES:
            if name in latest.values:
                value = latest.values[name]
                sd = latest.spread(name)
                if sd is None:
                    sd = _k_factor(line, events)[1] * value if name == FLOW else 0.0
                found[name] = Measured(value=value, sd=sd, at_ms=latest.at_ms[name])
        return found

    def _days(
        self,
        line: LineSetup,
        events: list[AnyEvent],
        closures: Closures,
        now_ms: int,
    ) -> tuple[DayLitres, ...]:
        """Litres of the last seven local days, from the hours' pulses."""
        local = self._setup.local_time
        today = local_day(local, now_ms)
        starts = [local_midnight(local, today - timedelta(days=n)) for n in range(WEEK - 1, -2, -1)]
        hours, pulses = self._reader.pulses_by_hour(
            line.line_id, starts[0] - starts[0] % HOUR_MS, starts[-1]
        )
        pulses_per_l, relative_sd = _k_factor(line, events)
        days = []
        for start, end in pairwise(starts):
            inside = pulses[(hours >= start) & (hours < end)]
            litres = float(np.maximum(inside, 0).sum()) / pulses_per_l
            day = DayLitres(
                from_ms=start,
                litres=litres if len(inside) else None,
                sd_l=relative_sd * litres,
                shut=self._is_shut(start, closures),
            )
            days.append(day)
        return tuple(days)

    def _is_shut(self, start_ms: int, closures: Closures) -> bool:
        weekday = local_day(self._setup.local_time, start_ms).weekday()
        return not opens_on(self._setup.opening, closures, weekday, start_ms + DAY_MS // 2)

    def _raw_before(self, line_id: str, alarms: tuple[AlarmChange, ...]) -> float | None:
        """Raw hardness a day before the change of raw water that is open was raised."""
        raised = next((a.at_ms for a in alarms if a.alarm == RAW_CHANGED), None)
        if raised is None:
            return None
        until = raised - BEFORE_CHANGE_MS
        before = self._reader.estimates(line_id, until - 2 * DAY_MS, until)
        raws = [e.raw_mmol_l.p50 for e in before if e.raw_mmol_l is not None]
        return raws[-1] if raws else None


def _all(events: list[AnyEvent], kind: type[Kind]) -> list[Kind]:
    return [event for event in events if isinstance(event, kind)]


def _last(events: list[AnyEvent], kind: type[Kind]) -> Kind | None:
    found = _all(events, kind)
    return found[-1] if found else None


def _k_factor(line: LineSetup, events: list[AnyEvent]) -> tuple[float, float]:
    """Pulses per litre as last set, and its relative spread."""
    event = _last(events, KFactorSet)
    return (event.pulses_per_l, event.relative_sd) if event else (line.pulses_per_l, K_FACTOR_SD)
