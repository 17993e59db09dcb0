"""From guesses to the figures a person is shown, each with its range."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analytics.bed import exchanges
from analytics.belief import Belief, left_of, shares, spread_of
from analytics.ends import first_end, time_limit_ms
from analytics.look import Watching
from analytics.reasons import sharpeners
from analytics.samples import Estimate, Floats, Share, Spread
from analytics.setup import Closures, LineSetup, LocalTime
from analytics.usage import Usage

ROWS = 33


def summarise(
    line: LineSetup,
    local: LocalTime,
    belief: Belief,
    watching: Watching,
    usage: Usage,
    at_ms: int,
    cartridge_id: str,
    fitted_ms: int,
    shut: Closures = (),
) -> Estimate:
    """How the cartridge stands at `at_ms`; `shut` are announced closures."""
    weights, hard = shares(belief), watching.hardness
    remaining, used, rows, ended = _left(belief, weights)
    carbon = None if line.carbon_l is None else line.carbon_l - belief.litres
    limit = time_limit_ms(line, fitted_ms)
    end = first_end(line, local, usage, remaining, carbon, limit, at_ms, shut)
    no_bed = not exchanges(line.medium)
    known = no_bed or belief.raw_known
    return Estimate(
        at_ms=at_ms,
        known_at_ms=at_ms,
        cartridge_id=cartridge_id,
        remaining_l=remaining,
        used_share=used,
        used_rows=rows,
        days_left=end.days,
        end_ms=end.at_ms,
        ends_by=end.by,
        time_limit_ms=limit,
        carbon_left_l=carbon,
        outlet_mmol_l=None if hard is None else hard.outlet,
        treated_mmol_l=None if hard is None else hard.treated,
        raw_mmol_l=None if hard is None else hard.raw,
        target=line.capacity_kind.value,
        bypass=spread_of(belief.cloud["bypass"], weights) if hard is None else hard.bypass,
        litres_passed=belief.litres,
        rests_on=_rests_on(belief),
        trusted=known and (remaining is not None or (no_bed and end.by != "unknown")),
        reason="",
        end_probability=ended,
        sharpeners=sharpeners(watching.narrowings, end.days),
        capacity_share=None
        if used is None
        else spread_of(np.exp(belief.cloud["capacity"]), weights),
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
