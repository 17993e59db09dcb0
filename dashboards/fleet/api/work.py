"""The work: what is due, what to bring, and what the fleet's cartridges have taught."""

from __future__ import annotations

from analytics.fleet.due import Due as Standing
from analytics.fleet.due import Rules
from analytics.fleet.due import due as judged
from analytics.fleet.parts import needs
from analytics.samples import DAY_MS
from dashboards.fleet.api.cursors import cursor_of
from dashboards.fleet.api.operation import Call
from dashboards.fleet.api.reading import place_asked
from dashboards.fleet.api.words import Due, Page, Part, Parts, Prior, Priors
from dashboards.fleet.parts import wanted_by
from dashboards.fleet.standing import AHEAD_DAYS, standing_of
from firmware_bridge.fleet import priors as learnt
from firmware_bridge.fleet.records import line_rows
from firmware_bridge.fleet.records.line_rows import Area, LineRow

WEEK_DAYS = 7.0


def due(call: Call) -> Page[Due]:
    """Lines that may ask for a visit, the gravest first."""
    query = call.query
    next_ms = call.now_ms + DAY_MS if query.next_ms is None else query.next_ms
    rows = line_rows.in_need(
        call.connection,
        call.sight,
        Area(region=query.region, tag=query.tag),
        ends_by_ms=max(call.now_ms + AHEAD_DAYS * DAY_MS, next_ms + 2 * query.every_days * DAY_MS),
        heard_by_ms=call.now_ms - call.silent_ms,
    )
    by_number = {row.line_no: row for row in rows}
    rules = Rules(silent_ms=call.silent_ms)
    starts = [next_ms, next_ms + query.every_days * DAY_MS]
    found = judged([standing_of(row) for row in rows], call.now_ms, starts, rules)
    (first,) = place_asked(query.after, (int,)) or (0,)
    last = max(int(first), 0) + query.limit
    told = [_due(by_number[one.line_no], one) for one in found[max(int(first), 0) : last]]
    return Page(items=told, next=cursor_of((last,)) if last < len(found) else None)


def parts(call: Call) -> Parts:
    """Cartridges that the next weeks take, as ranges."""
    query = call.query
    rows = line_rows.every(call.connection, call.sight, Area(region=query.region, tag=query.tag))
    found = needs([wanted_by(row, call.now_ms) for row in rows], WEEK_DAYS * query.weeks)
    return Parts(
        items=[
            Part(
                medium=one.medium,
                size=one.size,
                lines=one.lines,
                unknown=one.unknown,
                mean=one.mean,
                count_p05=round(one.count.p05),
                count_p50=round(one.count.p50),
                count_p95=round(one.count.p95),
            )
            for one in found
        ]
    )


def priors(call: Call) -> Priors:
    """What a new cartridge is expected to deliver, by kind and region."""
    taught = call.taught()
    return Priors(
        items=[_prior(one) for one in taught.priors],
        cartridges=taught.cartridges,
        left_out=taught.left_out,
    )


def _due(row: LineRow, found: Standing) -> Due:
    return Due(
        line_no=row.line_no,
        site_no=row.site_no,
        site=row.site,
        line=row.line,
        need=found.need.value,
        risk=found.risk,
        by_ms=found.by_ms,
        chance_by_next=found.chances[0],
        chance_by_next_low=found.low[0],
        chance_by_next_high=found.high[0],
        chance_by_after=found.chances[1],
        chance_by_after_low=found.low[1],
        chance_by_after_high=found.high[1],
        ends_by=found.ends_by,
        alarm=row.alarm,
        doubts=row.doubts,
        heard_ms=row.heard_ms,
    )


def _prior(one: learnt.Prior) -> Prior:
    share = one.learnt.share
    return Prior(
        medium=one.medium,
        size=one.size,
        region=one.region,
        rated_mmol=one.rated_mmol,
        share_p05=share.p05,
        share_p50=share.p50,
        share_p95=share.p95,
        ended=one.learnt.ended,
        taken_early=one.learnt.taken_early,
        stated_capacity_mmol=one.stated_capacity_mmol,
        stated_spread=one.stated_spread,
    )
