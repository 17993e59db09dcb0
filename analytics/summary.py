"""From guesses to the figures a person is shown, each with its range."""

from __future__ import annotations

import numpy as np

from analytics.belief import Belief, shares, spread_of
from analytics.column.family import CurveFamily
from analytics.evidence import life_of
from analytics.guess import kind_at, outlook
from analytics.samples import DAY_MS, Estimate, Floats, Point, Share, Spread
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, days_until, forecast

ROWS = 33
MOST_DAYS = 730.0


def summarise(
    line: LineSetup,
    local: LocalTime,
    family: CurveFamily | None,
    belief: Belief,
    usage: Usage,
    at_ms: int,
    cartridge_id: str,
    fitted_ms: int,
) -> Estimate:
    """How the cartridge stands at `at_ms`."""
    weights = shares(belief)
    raw, treated, outlet = _hardness(belief, family, weights)
    remaining, used = _left(line, belief, family)
    left = None if remaining is None else spread_of(remaining, weights)
    days = None
    if left is not None:
        ahead = forecast(usage, line)
        days = days_until(ahead, usage, left, at_ms, local, MOST_DAYS)
    limit = _time_limit(line, fitted_ms)
    ended = 0.0 if used is None else float(np.sum(weights[used >= 1.0]))
    return Estimate(
        at_ms=at_ms,
        known_at_ms=at_ms,
        cartridge_id=cartridge_id,
        remaining_l=left,
        used_share=None if used is None else spread_of(used, weights),
        used_rows=() if used is None else _rows(used, weights),
        days_left=days,
        end_ms=None if days is None else _dates(days, at_ms),
        ends_by=_ends_by(days, limit, at_ms),
        time_limit_ms=limit,
        carbon_left_l=None if line.carbon_l is None else line.carbon_l - belief.litres,
        outlet_mmol_l=outlet,
        treated_mmol_l=treated,
        raw_mmol_l=raw,
        target=line.capacity_kind.value,
        bypass=spread_of(belief.cloud["bypass"], weights),
        litres_passed=belief.litres,
        rests_on=_rests_on(belief),
        trusted=belief.raw_known and left is not None,
        reason="" if belief.raw_known else "raw-water-unknown",
        end_probability=ended,
    )


def _hardness(
    belief: Belief, family: CurveFamily | None, weights: Floats
) -> tuple[Spread | None, Spread | None, Spread | None]:
    """Hardness of the medium's kind in raw, treated and blended water."""
    if family is None:
        return None, None, None
    now = outlook(belief, family)
    points = (Point.RAW, Point.TREATED, Point.BLENDED)
    raw, treated, outlet = (spread_of(kind_at(family, now, at), weights) for at in points)
    return raw, treated, outlet


def _left(
    line: LineSetup, belief: Belief, family: CurveFamily | None
) -> tuple[Floats | None, Floats | None]:
    """Litres through the head to the end of capacity, and the used share, for every guess."""
    a_life = life_of(belief, line, family)
    if a_life is None:
        return None, None
    used = belief.cloud["life"]
    return np.maximum(1.0 - used, 0.0) * a_life, used


def _rows(used: Floats, weights: Floats) -> tuple[float, ...]:
    places = (np.arange(ROWS) + 0.5) / 30.0
    return tuple(float(np.sum(weights[used > place])) for place in places)


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
