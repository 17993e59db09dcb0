"""Each cartridge that served: when it was fitted and removed, and what it delivered.

The dates come from what people did at the site, all of it read again whenever something is added,
since an act may be told late, corrected or withdrawn. What was delivered comes from estimates.
"""

from __future__ import annotations

from typing import Any

import msgspec
from sqlalchemy import Boolean, Float, bindparam, delete, insert, select, update

from firmware_bridge.fleet.ingest.newest import LineNow
from firmware_bridge.fleet.ingest.step import Step
from firmware_bridge.fleet.records.tables import cartridges, events
from firmware_bridge.forward.payloads import BatchRow

FITTED = "cartridge-fitted"
WITHDRAWN = "withdrawn"
REACHED = 0.5
"""From this probability on the end of capacity counts as reached."""
TAKEN_UP = {"p05": 0.93, "p50": 1.0, "p95": 1.07}
"""What was taken up is known so well: litres, raw water and bypass (common practice, no source)."""

_read = msgspec.json.Decoder(BatchRow)


class Fitted(msgspec.Struct, frozen=True):
    """A cartridge put in, by what people said."""

    at_ms: int
    cartridge: str


def fitted(rows: list[BatchRow]) -> list[Fitted]:
    """The cartridges of a line by the instant they were fitted; what was withdrawn is left out.

    An event that stands in place of another one was preceded by the withdrawal of that one.
    """
    withdrawn = {row.words.get("withdraws", "") for row in rows if _is(row, WITHDRAWN)}
    there = {
        row.at_ms: Fitted(row.at_ms, row.cartridge or row.words.get("cartridge_id", ""))
        for row in rows
        if _is(row, FITTED) and row.words.get("event_id", "") not in withdrawn
    }
    return [there[at_ms] for at_ms in sorted(there)]


def follow_cartridges(step: Step, site_no: int, now: LineNow) -> None:
    """Bring the dates of the cartridges of a line in line with what people said."""
    here = (events.c.site_no == site_no) & (events.c.line == now.line)
    asked = select(events.c.body).where(here, events.c.kind.in_((FITTED, WITHDRAWN)))
    found = fitted([_read.decode(body) for body in step.connection.scalars(asked)])
    if found:
        _dates(step, site_no, now, found)
        now.columns["fitted_ms"] = found[-1].at_ms


def sized(step: Step, site_no: int, now: LineNow) -> None:
    """The cartridge in use is of the size that the site's card says."""
    here = (cartridges.c.site_no == site_no) & (cartridges.c.line == now.line)
    in_use = update(cartridges).where(here, cartridges.c.removed_ms.is_(None))
    step.connection.execute(in_use.values(_kind(now)))


def serve(step: Step, estimates: list[tuple[int, str, BatchRow]]) -> None:
    """What the cartridge in use has delivered so far; after its end the estimates that still say
    that it was reached, which know the capacity better as the front passes."""
    step.many(_SERVES, [_delivered(*each) for each in estimates])


def _is(row: BatchRow, kind: str) -> bool:
    return row.words.get("event") == kind


def _kind(now: LineNow) -> dict[str, Any]:
    return {name: now.columns[name] for name in ("medium", "size", "capacity_mmol")}


def _dates(step: Step, site_no: int, now: LineNow, found: list[Fitted]) -> None:
    here = (cartridges.c.site_no == site_no) & (cartridges.c.line == now.line)
    told = {each.at_ms for each in found}
    there = set(step.connection.scalars(select(cartridges.c.fitted_ms).where(here)))
    if gone := sorted(there - told):
        old = step.records.among(cartridges.c.fitted_ms, gone)
        step.connection.execute(delete(cartridges).where(here, old))
    ends = [*(each.at_ms for each in found[1:]), None]
    dates = list(zip(found, ends, strict=True))
    changed = [
        {"no": site_no, "of_line": now.line, "at": each.at_ms, "end": end, "named": each.cartridge}
        for each, end in dates
        if each.at_ms in there
    ]
    new = [
        {
            "site_no": site_no, "line": now.line, "cartridge": each.cartridge,
            "fitted_ms": each.at_ms, "removed_ms": end, "reached_end": False, **_kind(now),
        }
        for each, end in dates
        if each.at_ms not in there
    ]  # fmt: skip
    step.many(insert(cartridges), new)
    step.many(_DATED, changed)


def _delivered(site_no: int, line: str, row: BatchRow) -> dict[str, Any]:
    """What the cartridge holds or has taken up so far, as shares of its stated capacity.

    Once the end was reached that is what the site believes of its capacity, range and all; how much
    of that is only the rating it began with is for the reader to undo. Before, the used share of
    it is a lower bound.
    """
    numbers = row.numbers
    reached = numbers.get("end_probability", 0.0) >= REACHED
    found: dict[str, Any] = {
        "no": site_no, "of_line": line, "at": row.at_ms, "passed": numbers.get("litres_passed"),
        "reached": reached,
    }  # fmt: skip
    middle, used = numbers.get("capacity_share_p50"), numbers.get("used_share_p50", 0.0)
    for quantile in ("p05", "p50", "p95"):
        share = found[f"holds_{quantile}"] = numbers.get(f"capacity_share_{quantile}")
        if not reached and middle is not None:
            share = middle * used * TAKEN_UP[quantile]
        found[f"share_{quantile}"] = share
    return found


_IN_LINE = (cartridges.c.site_no == bindparam("no")) & (cartridges.c.line == bindparam("of_line"))
_DATED = (
    update(cartridges)
    .where(_IN_LINE, cartridges.c.fitted_ms == bindparam("at"))
    .values(removed_ms=bindparam("end"), cartridge=bindparam("named"))
)
_SERVES = (
    update(cartridges)
    .where(
        _IN_LINE,
        cartridges.c.reached_end.is_(False) | bindparam("reached", type_=Boolean),
        cartridges.c.fitted_ms <= bindparam("at"),
        (cartridges.c.removed_ms.is_(None)) | (cartridges.c.removed_ms > bindparam("at")),
    )
    .values(
        litres=bindparam("passed"), reached_end=bindparam("reached"),
        holds_mmol_p05=cartridges.c.capacity_mmol * bindparam("holds_p05", type_=Float),
        holds_mmol_p50=cartridges.c.capacity_mmol * bindparam("holds_p50", type_=Float),
        holds_mmol_p95=cartridges.c.capacity_mmol * bindparam("holds_p95", type_=Float),
        delivered_mmol_p05=cartridges.c.capacity_mmol * bindparam("share_p05", type_=Float),
        delivered_mmol_p50=cartridges.c.capacity_mmol * bindparam("share_p50", type_=Float),
        delivered_mmol_p95=cartridges.c.capacity_mmol * bindparam("share_p95", type_=Float),
    )
)  # fmt: skip
