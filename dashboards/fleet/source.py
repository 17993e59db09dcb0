"""One site as its own pages read it, from what the fleet has received."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import Any

import msgspec
import numpy as np

from analytics.bed import sees_little
from analytics.chemistry.temperature import ec25_natural
from analytics.opening import opens_on
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    MINUTE_MS,
    AlarmChange,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    DropTest,
    Estimate,
    KFactorSet,
    Point,
)
from analytics.setup import ALWAYS_OPEN, CapacityKind, Limits, LineSetup, LocalTime, SiteSetup
from dashboards.fleet.rebuilt import estimate_of
from dashboards.fleet.received import ReceivedReader
from dashboards.history.record import Record, record_of
from dashboards.history.span import Span
from dashboards.open_alarms import open_alarms
from dashboards.paper.facts import Cartridge, cartridges
from dashboards.paper.make import Made, Wanted, make
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import local_day, local_midnight
from dashboards.sources import DayLitres, LineFacts, Measured, SiteFacts
from firmware_bridge.fleet.records.line_rows import LineRow
from firmware_bridge.fleet.records.sight import Connection
from firmware_bridge.fleet.records.site_rows import SiteRow
from firmware_bridge.forward.payloads import BatchRow, Card
from firmware_bridge.forward.sink import LineCard
from firmware_bridge.live import INLET_EC25, INLET_TEMP, OUTLET_EC25, OUTLET_TEMP

LAG_MS = 5 * MINUTE_MS
"""A row may be on its way here for so long: sites send by the minute."""
EVERY_MS = MINUTE_MS
ALARM_SPAN_MS = 400 * DAY_MS
WEEK = 7
EC_SD, TEMP_SD = 0.015, 0.25
"""Spread of a probe nobody told us the calibration of: relative, and in C (common practice)."""
K_FACTOR_SD = 0.03


class ReceivedSource:
    """The site of one request. `local` is the clock its days are told by."""

    def __init__(
        self, connection: Connection, site: SiteRow, rows: list[LineRow], local: LocalTime,
        now_ms: int,
    ) -> None:  # fmt: skip
        self._reader = ReceivedReader(connection, site.site_no)
        self._rows = {row.line: row for row in rows}
        self._now_ms = now_ms
        self._setup = setup_of(site, rows, local)

    def facts(self) -> SiteFacts:
        """The site as last heard of."""
        return SiteFacts(
            setup=self._setup,
            now_ms=self._now_ms,
            lines=tuple(self._line(line) for line in self._setup.lines),
        )

    def journal(self, from_ms: int, to_ms: int) -> list[tuple[str, AlarmChange]]:
        """Changes of alarms in [from_ms, to_ms), oldest first."""
        found = self._reader.alarm_changes(from_ms=from_ms, to_ms=to_ms)
        return [(known.line_id, known.change) for known in found]

    def paper(self, wanted: Wanted, person: Reader, now_ms: int) -> Made:
        """A record or report, set; raises PaperAskedError, PaperError."""
        return make(self._reader, self._setup, person, now_ms, wanted)

    def was_fitted(self, line_id: str) -> bool:
        """The hand-over record is made at the site."""
        return False

    def cartridges(self, line_id: str, now_ms: int) -> tuple[Cartridge, ...]:
        """Every cartridge that was put in, oldest first."""
        return cartridges(self._reader, line_id, now_ms)

    def record(self, line_id: str, span: Span, now_ms: int) -> Record:
        """A line over a span."""
        line = next(line for line in self._setup.lines if line.line_id == line_id)
        return record_of(self._reader, self._setup, line, span, now_ms, LAG_MS)

    def _line(self, line: LineSetup) -> LineFacts:
        line_id, now_ms = line.line_id, self._now_ms
        events = self._reader.events(line_id, to_ms=now_ms + 1)
        stored = self._reader.alarm_changes(line_id, now_ms - ALARM_SPAN_MS, now_ms + 1)
        reach = self._reader.span(line_id)
        row = self._rows[line_id]
        heard = [at for at in (reach[1] if reach else None, row.reading_ms) if at is not None]
        closures = tuple((c.at_ms, c.until_ms) for c in _all(events, Closure))
        tests = [t for t in _all(events, DropTest) if t.point is Point.BLENDED]
        fitted, bypass = _all(events, CartridgeFitted), _all(events, BypassSet)
        return LineFacts(
            setup=line,
            estimate=_newest_estimate(row) or self._reader.latest_estimate(line_id),
            live=_live(row),
            every_ms=EVERY_MS,
            days=self._days(line, events, closures),
            first_row_ms=reach[0] if reach else None,
            last_row_ms=max(heard, default=None),
            fitted_ms=fitted[-1].at_ms if fitted else None,
            bypass_set=bypass[-1].share if bypass else None,
            last_test=tests[-1] if tests else None,
            alarms=open_alarms([known.change for known in stored], (), now_ms),
            closures=closures,
            sees_medium=not (line.outlet_probe and sees_little(line.medium)),
            lag_ms=LAG_MS,
        )

    def _days(
        self, line: LineSetup, events: list[AnyEvent], closures: tuple[tuple[int, int], ...]
    ) -> tuple[DayLitres, ...]:
        """Litres of the last seven local days, from the draws."""
        local = self._setup.local_time
        today = local_day(local, self._now_ms)
        starts = [local_midnight(local, today - timedelta(days=n)) for n in range(WEEK - 1, -2, -1)]
        from_ms = starts[0] - starts[0] % HOUR_MS
        hours, pulses = self._reader.pulses_by_hour(line.line_id, from_ms, starts[-1])
        told = _all(events, KFactorSet)
        per_l = told[-1].pulses_per_l if told else line.pulses_per_l
        spread = told[-1].relative_sd if told else K_FACTOR_SD
        days = []
        for start, end in pairwise(starts):
            inside = pulses[(hours >= start) & (hours < end)]
            litres = float(np.maximum(inside, 0).sum()) / per_l
            weekday = local_day(local, start).weekday()
            days.append(
                DayLitres(
                    from_ms=start,
                    litres=litres if len(inside) else None,
                    sd_l=spread * litres,
                    shut=not opens_on(self._setup.opening, closures, weekday, start + DAY_MS // 2),
                )
            )
        return tuple(days)


def setup_of(site: SiteRow, rows: list[LineRow], local: LocalTime) -> SiteSetup:
    """What a site is, from its card; where a card lacks something, the usual."""
    card = _card(site)
    told = {line.line_id: line for line in card.lines} if card else {}
    opening = tuple(getattr(card, "opening", ()))
    return SiteSetup(
        site_id=site.site,
        name=site.called,
        what=str(getattr(card, "what", "")),
        service=site.service,
        local_time=local,
        opening=opening if len(opening) == WEEK else ALWAYS_OPEN,
        lines=tuple(_line_setup(row, told.get(row.line)) for row in rows),
    )


def _line_setup(row: LineRow, card: LineCard | None) -> LineSetup:
    usual = LineSetup(line_id=row.line, medium=row.medium or "hydrogen",
                      capacity_mmol=row.capacity_mmol)  # fmt: skip
    if card is None:
        return usual
    named = set(LineSetup.__struct_fields__) - {"line_id", "limits", "capacity_kind", "opening"}
    changes: dict[str, Any] = {
        name: getattr(card, name)
        for name in card.__struct_fields__
        if name in named and getattr(card, name) is not None
    }
    kind = getattr(card, "capacity_kind", "")
    if kind in tuple(CapacityKind):
        changes["capacity_kind"] = CapacityKind(kind)
    limits = dict(getattr(card, "limits", {}))
    known = {k: v for k, v in limits.items() if k in Limits.__struct_fields__}
    profile = getattr(card, "profile", "")
    changes["limits"] = msgspec.convert(known | {"profile": profile}, Limits, strict=False)
    return msgspec.structs.replace(usual, **changes)


def _card(site: SiteRow) -> Card | None:
    """The card as it came; None where there is none that makes sense."""
    try:
        return msgspec.json.decode(site.card, type=Card)
    except msgspec.MsgspecError:
        return None


def _newest_estimate(row: LineRow) -> Estimate | None:
    newest = row.newest_rows().get("estimate")
    return None if newest is None else estimate_of(newest)


def _live(row: LineRow) -> dict[str, Measured]:
    """The newest reading; conductivity referred to 25 C."""
    newest = row.newest_rows().get("reading")
    if newest is None:
        return {}
    found: dict[str, Measured] = {}
    for ec25, temp, probe in (
        (OUTLET_EC25, OUTLET_TEMP, "outlet"),
        (INLET_EC25, INLET_TEMP, "inlet"),
    ):
        found |= _probe(newest, ec25, temp, probe)
    return found


def _probe(newest: BatchRow, ec25: str, temp: str, probe: str) -> dict[str, Measured]:
    read = newest.numbers.get(f"{probe}_us_cm")
    temp_c = newest.numbers.get(f"{probe}_temp_c")
    found = {}
    if temp_c is not None:
        found[temp] = Measured(value=temp_c, sd=TEMP_SD, at_ms=newest.at_ms)
        if read is not None:
            value = float(ec25_natural(np.array([read]), np.array([temp_c]))[0])
            found[ec25] = Measured(value=value, sd=EC_SD * value, at_ms=newest.at_ms)
    return found


def _all(events: list[AnyEvent], kind: type[Any]) -> list[Any]:
    return [event for event in events if isinstance(event, kind)]
