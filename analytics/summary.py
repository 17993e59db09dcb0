"""From guesses to the figures a person is shown, each with its range."""

from __future__ import annotations

import numpy as np

from analytics.belief import Belief, removed_share, shares, spread_of, target_of
from analytics.evidence import treated_share
from analytics.samples import DAY_MS, Estimate, Floats, Share, Spread
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, days_until, forecast

ROWS = 33
MOST_DAYS = 730.0


def summarise(
    line: LineSetup,
    local: LocalTime,
    belief: Belief,
    usage: Usage,
    at_ms: int,
    cartridge_id: str,
    fitted_ms: int,
) -> Estimate:
    """How the cartridge stands at `at_ms`."""
    weights = shares(belief)
    target = target_of(belief, line.capacity_kind)
    treated = target * (1.0 - treated_share(belief, line))
    outlet = belief.bypass * target + (1.0 - belief.bypass) * treated
    remaining, used = _left(line, belief, target)
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
        outlet_mmol_l=spread_of(outlet, weights),
        treated_mmol_l=spread_of(treated, weights),
        raw_mmol_l=spread_of(target, weights),
        target=line.capacity_kind.value,
        bypass=spread_of(belief.bypass, weights),
        litres_passed=belief.litres,
        rests_on=_rests_on(belief),
        trusted=belief.raw_known and left is not None,
        reason="" if belief.raw_known else "raw-water-unknown",
        end_probability=ended,
    )


def _left(line: LineSetup, belief: Belief, target: Floats) -> tuple[Floats | None, Floats | None]:
    """Litres through the head to the end of capacity, and the used share, for every guess."""
    if line.capacity_mmol is None:
        return None, None
    capacity = line.capacity_mmol * np.exp(belief.ln_capacity)
    used = belief.load_mmol / capacity
    # mean of the removed share over what is left, by Simpson's rule on the S-curve
    middle, end = removed_share(0.5 * (used + 1.0)), removed_share(np.maximum(used, 1.0))
    mean = (removed_share(used) + 4.0 * middle + end) / 6.0
    a_litre = np.maximum((1.0 - belief.bypass) * target * mean * np.exp(-belief.ln_k), 1e-6)
    return np.maximum(capacity - belief.load_mmol, 0.0) / a_litre, used


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
