"""From guesses to the figures a person is shown, each with its range."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analytics.belief import Belief, left_of, shares, spread_of
from analytics.look import Watching
from analytics.reasons import sharpeners
from analytics.samples import DAY_MS, Estimate, Floats, Share, Spread
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, days_until, forecast

ROWS = 33
MOST_DAYS = 730.0


def summarise(
    line: LineSetup,
    local: LocalTime,
    belief: Belief,
    watching: Watching,
    usage: Usage,
    at_ms: int,
    cartridge_id: str,
    fitted_ms: int,
) -> Estimate:
    """How the cartridge stands at `at_ms`."""
    weights, hard = shares(belief), watching.hardness
    remaining, used, rows, ended = _left(belief, weights)
    days = None
    if remaining is not None:
        ahead = forecast(usage, line)
        days = days_until(ahead, usage, remaining, at_ms, local, MOST_DAYS)
    limit = _time_limit(line, fitted_ms)
    return Estimate(
        at_ms=at_ms,
        known_at_ms=at_ms,
        cartridge_id=cartridge_id,
        remaining_l=remaining,
        used_share=used,
        used_rows=rows,
        days_left=days,
        end_ms=None if days is None else _dates(days, at_ms),
        ends_by=_ends_by(days, limit, at_ms),
        time_limit_ms=limit,
        carbon_left_l=None if line.carbon_l is None else line.carbon_l - belief.litres,
        outlet_mmol_l=None if hard is None else hard.outlet,
        treated_mmol_l=None if hard is None else hard.treated,
        raw_mmol_l=None if hard is None else hard.raw,
        target=line.capacity_kind.value,
        bypass=spread_of(belief.cloud["bypass"], weights) if hard is None else hard.bypass,
        litres_passed=belief.litres,
        rests_on=_rests_on(belief),
        trusted=belief.raw_known and remaining is not None,
        reason="" if belief.raw_known else "raw-water-unknown",
        end_probability=ended,
        sharpeners=sharpeners(watching.narrowings, days),
        **_change(watching),
    )


def _change(watching: Watching) -> dict[str, Any]:
    """The last step in what the probes say, as the estimate tells it."""
    change = watching.change
    if change is None:
        return {}
    return {
        "change": change.what,
        "change_ms": change.at_ms,
        "change_probability": change.probability,
        "change_reason": change.reason,
    }


def _left(
    belief: Belief, weights: Floats
) -> tuple[Spread | None, Spread | None, tuple[float, ...], float]:
    """Litres through the head to the end, the used share, its rows, and how probable the end is."""
    life = belief.cloud["life"]
    if not math.isfinite(float(belief.cloud["a_life"][0])):
        return None, None, (), 0.0
    left = np.maximum(left_of(belief), 0.0) * np.exp(-belief.cloud["k"])
    order = np.argsort(life, kind="stable")
    running = np.cumsum(weights[order])
    sorted_life = life[order]
    p05, p50, p95 = np.interp((0.05, 0.5, 0.95), running - 0.5 * weights[order], sorted_life)
    used = Spread(p50=float(p50), p05=float(p05), p95=float(p95))
    places = np.searchsorted(sorted_life, _PLACES, side="right")
    under = np.where(places > 0, running[np.maximum(places - 1, 0)], 0.0)
    rows = np.clip(1.0 - under, 0.0, 1.0).tolist()
    first = int(np.searchsorted(sorted_life, 1.0, side="left"))
    ended = 1.0 - float(running[first - 1]) if first else 1.0
    return spread_of(left, weights), used, tuple(rows), min(max(ended, 0.0), 1.0)


_PLACES = (np.arange(ROWS) + 0.5) / 30.0


def _rests_on(belief: Belief) -> Share:
    total = sum(belief.nats)
    litres, conductivity, drop_tests = (part / total for part in belief.nats)
    return Share(litres=litres, conductivity=conductivity, drop_tests=drop_tests)


def _time_limit(line: LineSetup, fitted_ms: int) -> int | None:
    if line.time_limit_days is None or not fitted_ms:
        return None
    return fitted_ms + round(line.time_limit_days * DAY_MS)


def _dates(days: Spread, at_ms: int) -> Spread:
    p05, p50, p95 = (at_ms + d * DAY_MS for d in (days.p05, days.p50, days.p95))
    return Spread(p05=p05, p50=p50, p95=p95)


def _ends_by(days: Spread | None, limit: int | None, at_ms: int) -> str:
    if limit is not None and (days is None or limit < at_ms + days.p50 * DAY_MS):
        return "time"
    return "capacity" if days is not None else "unknown"
