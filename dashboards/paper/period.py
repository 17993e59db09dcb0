"""The report of a month or a year: was the water right, what was drawn, what happened."""

from __future__ import annotations

from datetime import date

import numpy as np

from analytics.samples import HOUR_MS, AnyEvent, Spread
from analytics.setup import LocalTime
from dashboards.history.record import Record
from dashboards.history.span import Span
from dashboards.paper.change import share_words
from dashboards.paper.common import (
    Desk,
    alarms_row,
    care_row,
    course_row,
    gaps_row,
    log_row,
    place_row,
    sheet_of,
)
from dashboards.paper.facts import Cartridge, right_days, silent_ms
from dashboards.paper.sheet import Facts, Row, Sheet, Table
from dashboards.phrases.times import local_midnight


def month_span(local: LocalTime, year: int, month: int) -> Span:
    """A local month; raises ValueError where there is none."""
    first = date(year, month, 1)
    after = date(year + month // 12, month % 12 + 1, 1)
    return Span(from_ms=local_midnight(local, first), to_ms=local_midnight(local, after))


def year_span(local: LocalTime, year: int) -> Span:
    """A local year."""
    return Span(
        from_ms=local_midnight(local, date(year, 1, 1)),
        to_ms=local_midnight(local, date(year + 1, 1, 1)),
    )


def period_report(
    desk: Desk, kind: str, record: Record, events: list[AnyEvent], found: tuple[Cartridge, ...]
) -> Sheet:
    """The sheet; `kind` is month or year, `events` those of the span, `found` every cartridge."""
    span = record.span
    when = desk.when
    days = when.days_range(when.day(span.from_ms), when.day(min(span.to_ms, when.now_ms) - 1))
    rows = (
        place_row(desk),
        _water_row(desk, record),
        course_row(desk, record, days),
        _cartridge_row(desk, record, found),
        alarms_row(desk, record),
        log_row(desk, events),
        gaps_row(desk, record),
        care_row(desk),
    )
    return sheet_of(desk, f"paper.{kind}", _sentence(desk, record), rows)


def _sentence(desk: Desk, record: Record) -> str:
    say = desk.reader.say
    days = right_days(record, desk.setup.local_time)
    if days is not None and days.known:
        if days.right == days.known:
            return say("paper.said.all-right")
        return say("paper.said.right", right=days.right, known=days.known)
    litres = float(np.nansum(record.litres))
    if litres > 0:
        return say("paper.said.litres", litres=_volume(desk, litres))
    return say("paper.said.nothing")


def _volume(desk: Desk, litres: float) -> str:
    return desk.reader.volume(Spread(p50=litres, p05=litres * 0.97, p95=litres * 1.03)).text


def _water_row(desk: Desk, record: Record) -> Row:
    say, reader = desk.reader.say, desk.reader
    rows: list[tuple[str, str]] = []
    days = right_days(record, desk.setup.local_time)
    if days is not None and days.known:
        rows.append((say("paper.right-days"),
                     say("paper.of-days", right=days.right, known=days.known)))  # fmt: skip
    if record.hardness:
        middles = np.array([s.p50 for _, s in record.hardness])
        low, middle, high = np.percentile(middles, (5, 50, 95)).tolist()
        figure = reader.hardness(Spread(p05=low, p50=middle, p95=high))
        hardest = max((s for _, s in record.hardness), key=lambda s: s.p50)
        rows.append((say("paper.hardness"), figure.full))
        rows.append((say("paper.hardest"), reader.hardness(hardest).full))
    mean = record.ec_out.mean[np.isfinite(record.ec_out.mean)]
    if len(mean):
        rows.append((say("paper.ec"), f"{mean.min():.0f}\u2013{mean.max():.0f}\u202fµS/cm"))
    litres = record.litres[np.isfinite(record.litres)]
    if len(litres):
        rows.append((say("paper.litres"), _volume(desk, float(litres.sum()))))
        if record.bins.unit == "day":
            most = int(np.nanargmax(record.litres))
            day = desk.when.long(desk.when.day(int(record.bins.edges[most])))
            rows.append((say("paper.busiest"), f"{day}, {_volume(desk, float(litres.max()))}"))
    if silent := silent_ms(record):
        rows.append((say("paper.silent"), say("paper.hours", n=round(silent / HOUR_MS))))
    return Row(title=say("paper.row.water"), blocks=(Facts(rows=tuple(rows)),))


def _cartridge_row(desk: Desk, record: Record, found: tuple[Cartridge, ...]) -> Row:
    """Cartridges that were in at some time of the span."""
    say, when, span = desk.reader.say, desk.when, record.span
    inside = [
        c for c in found
        if c.fitted.at_ms < span.to_ms and (c.until_ms is None or c.until_ms > span.from_ms)
    ]  # fmt: skip
    rows = tuple(
        (
            c.fitted.cartridge_id or say("paper.not-known"),
            when.brief(when.day(c.fitted.at_ms)),
            say("paper.this") if c.until_ms is None else when.brief(when.day(c.until_ms)),
            desk.reader.passed(c.most_used.litres_passed) if c.most_used else "",
            share_words(c.most_used.used_share, desk.reader)
            if c.most_used and c.most_used.used_share
            else "",
        )
        for c in inside
    )
    head = tuple(say(f"paper.{name}") for name in ("serial", "fitted", "out", "passed", "used"))
    return Row(title=say("paper.row.cartridges"), blocks=(Table(head=head, rows=rows, wide=4),))
