"""What each kind of evidence says of a guess: litres, conductivity, drop tests, dated facts."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.belief import (
    CONDUCTIVITY,
    DROP_TESTS,
    Belief,
    bypass_guesses,
    cartridge,
    chance,
    changed,
    reweigh,
)
from analytics.column.family import CurveFamily
from analytics.guess import (
    Outlook,
    litres_a_life,
    ln_outlet_over_raw,
    outlook,
    raw_of,
    taken_out_us_cm,
)
from analytics.natural_water import natural_factor
from analytics.normal import normal_cdf
from analytics.samples import (
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    CrossZero,
    DropTest,
    Floats,
    KFactorSet,
    Point,
    UtilityReport,
)
from analytics.setup import LineSetup

OPERATOR_DROPS: Final = 0.30
"""Error of the person who counts, in drops (common practice, no source)."""
SLIP: Final = 0.04
"""Chance that a whole drop too many or too few is written down."""
CROSS_ZERO_SD: Final = 0.004
"""What two probes still differ by after they read one water (common practice, no source)."""
DRIFT_A_DAY: Final = {"hard": 0.003, "ratio": 0.003, "calcium": 0.0008}
"""Daily random step of hardness per conductivity, of the ratio and of the calcium share."""
EC_DRIFT_A_DAY: Final = 0.006
"""Daily random step of raw conductivity where no inlet probe sees it, relative."""
GAIN_DRIFT_A_DAY: Final = 0.0008
"""Daily random step of one probe against the other, relative."""
EC_NOISE: Final = 0.005
"""Error of a step's conductivity ratio that more readings do not lessen."""
FAR: Final = 4.0
"""An outlet reading this many standard errors off says little more: it may be no reading at all."""


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """What the probes said over one step: mean ln(EC25), NaN where nothing counted."""

    inlet: float
    outlet: float


def drift(belief: Belief, days: float, seed: int) -> Belief:
    """Let water and probes wander for this long."""
    if days <= 0.0:
        return belief
    rng = chance(seed, belief.steps, 2)
    root = math.sqrt(days)
    moved = {
        name: belief.cloud[name] + rate * root * rng.standard_normal(len(belief.ln_weight))
        for name, rate in DRIFT_A_DAY.items()
    }
    moved["calcium"] = np.clip(moved["calcium"], 0.3, 0.99)
    return changed(
        belief,
        moved,
        ec_var=belief.ec_var + EC_DRIFT_A_DAY**2 * days,
        gain_var=belief.gain_var + GAIN_DRIFT_A_DAY**2 * days,
    )


def pass_litres(
    belief: Belief, line: LineSetup, family: CurveFamily | None, litres: float
) -> Belief:
    """Use the bed of every guess up by these litres."""
    if litres <= 0.0:
        return belief
    a_life = life_of(belief, line, family)
    life = belief.cloud["life"]
    if a_life is not None:
        life = np.minimum(life + litres / np.maximum(a_life, 1e-6), 3.0)
    return changed(belief, {"life": life}, litres=belief.litres + litres)


def life_of(belief: Belief, line: LineSetup, family: CurveFamily | None) -> Floats | None:
    """Litres in a whole life of every guess; None where no capacity is stated."""
    if family is not None and line.capacity_mmol is not None:
        raw, bypass = raw_of(belief), belief.cloud["bypass"]
        return litres_a_life(belief, family, line.capacity_mmol, raw, bypass)
    if line.rated_l is not None:
        return np.asarray(line.rated_l * np.exp(belief.cloud["capacity"] + belief.cloud["k"]))
    return None


def see_pair(belief: Belief, family: CurveFamily, seen: Seen, seed: int) -> Belief:
    """Follow the raw water by the inlet probe, then weigh outlet over inlet."""
    if math.isfinite(seen.inlet):
        belief = _follow_inlet(belief, seen.inlet, seed)
    if not (math.isfinite(seen.inlet) and math.isfinite(seen.outlet)):
        return belief
    expected = ln_outlet_over_raw(belief, family, outlook(belief, family))
    off = seen.outlet - seen.inlet - expected - belief.cloud["gain"]
    variance = belief.gain_var + EC_NOISE**2
    belief = reweigh(belief, _far_sighted(off, variance), CONDUCTIVITY)
    kept = belief.gain_var / variance
    return changed(
        belief,
        {"gain": belief.cloud["gain"] + kept * off},
        gain_var=belief.gain_var * (1.0 - kept),
    )


def _follow_inlet(belief: Belief, inlet: float, seed: int) -> Belief:
    """Raw conductivity is what the inlet probe says; hardness goes with it, a little loosely."""
    cloud = belief.cloud
    if not belief.ec_known:
        # the hardness believed so far stays; only what it is per conductivity becomes known
        hard = cloud["hard"] + cloud["ec"] - inlet
        columns = {"ec": np.full(len(hard), inlet), "hard": hard}
        return changed(belief, columns, ec_known=True, ec_var=0.0)
    moved = inlet - float(cloud["ec"][0])
    rng = chance(seed, belief.steps, 3)
    loose = 0.35 * max(abs(moved) - 0.02, 0.0)
    hard, ratio = cloud["hard"], cloud["ratio"]
    if loose > 0.0:
        hard = hard + loose * rng.standard_normal(len(hard))
        ratio = ratio + loose * rng.standard_normal(len(ratio))
    now = float(cloud["ec"][0]) + (0.3 if abs(moved) < 0.02 else 1.0) * moved
    return changed(belief, {"ec": np.full(len(hard), now), "hard": hard, "ratio": ratio})


def see_outlet(belief: Belief, family: CurveFamily, seen: Seen) -> Belief:
    """Weigh one outlet probe alone: raw water, front and bypass are seen only together."""
    if not math.isfinite(seen.outlet):
        return belief
    cloud = belief.cloud
    if not belief.ec_known:
        return _first_outlet(belief, family, seen.outlet)
    expected = ln_outlet_over_raw(belief, family, outlook(belief, family))
    off = seen.outlet - expected - cloud["ec"]
    variance = belief.ec_var + EC_NOISE**2
    belief = reweigh(belief, _far_sighted(off, variance), CONDUCTIVITY)
    kept = belief.ec_var / variance
    return changed(belief, {"ec": cloud["ec"] + kept * off}, ec_var=belief.ec_var * (1.0 - kept))


def _first_outlet(belief: Belief, family: CurveFamily, outlet: float) -> Belief:
    """The first outlet reading tells the raw conductivity of every guess: the outlet's and what
    the bed took, together. Hardness as believed so far stays."""
    cloud = belief.cloud
    taken = taken_out_us_cm(belief, family, outlook(belief, family))
    ec = np.log(math.exp(outlet) + np.maximum(taken, 0.0))
    hard = cloud["hard"] + cloud["ec"] - ec
    return changed(belief, {"ec": ec, "hard": hard}, ec_known=True, ec_var=EC_NOISE**2)


def _far_sighted(off: Floats, variance: float) -> Floats:
    """Log likelihood of a reading that is off by so much: normal near, flat far."""
    z2 = off**2 / variance
    return np.asarray(np.logaddexp(-0.5 * z2, -0.5 * FAR**2))


def take_event(
    belief: Belief,
    line: LineSetup,
    family: CurveFamily | None,
    event: AnyEvent,
    seed: int,
) -> Belief:
    """What a dated fact changes."""
    rng = chance(seed, belief.steps, 4)
    match event:
        case DropTest():
            if event.point is Point.RAW and not belief.raw_known:
                return _first_raw_test(belief, event, rng)
            return reweigh(belief, _drop_test(belief, family, event), DROP_TESTS)
        case UtilityReport():
            if not belief.raw_known:
                return _first_report(belief, event, rng)
            return reweigh(belief, _report(belief, event), DROP_TESTS)
        case CartridgeFitted():
            return _fit(belief, line, family, event, rng)
        case BypassSet():
            return changed(belief, {"bypass": bypass_guesses(rng, event.share)})
        case KFactorSet():
            off = math.log(event.pulses_per_l / line.pulses_per_l)
            k = off + event.relative_sd * rng.standard_normal(len(belief.ln_weight))
            return changed(belief, {"k": k})
        case CrossZero():
            return _cross_zero(belief, line, event)
        case _:
            return belief


def _fit(
    belief: Belief,
    line: LineSetup,
    family: CurveFamily | None,
    event: CartridgeFitted,
    rng: np.random.Generator,
) -> Belief:
    """Another cartridge is in: new, part used by a stated amount, or of unknown use."""
    n = len(belief.ln_weight)
    belief = changed(belief, cartridge(line, rng), nats=(0.5, 0.0, 0.0), litres=0.0)
    if event.litres_before is None:
        return changed(belief, {"life": rng.random(n)})
    passed = np.maximum(event.litres_before + event.litres_before_sd * rng.standard_normal(n), 0.0)
    a_life = life_of(belief, line, family)
    life = np.zeros(n) if a_life is None else passed / np.maximum(a_life, 1e-6)
    return changed(belief, {"life": life}, litres=event.litres_before)


def _cross_zero(belief: Belief, line: LineSetup, event: CrossZero) -> Belief:
    """Both probes read raw water: what they differ by is their gain. One probe: raw EC25."""
    outlet = _ln_ec25(event.outlet_us_cm, event.outlet_temp_c)
    if line.inlet_probe:
        if event.inlet_us_cm is None or event.inlet_temp_c is None:
            return belief
        off = outlet - _ln_ec25(event.inlet_us_cm, event.inlet_temp_c)
        if not math.isfinite(off):
            return belief
        n = len(belief.ln_weight)
        return changed(belief, {"gain": np.full(n, off)}, gain_var=CROSS_ZERO_SD**2)
    if not math.isfinite(outlet):
        return belief
    cloud = belief.cloud
    hard = cloud["hard"] + cloud["ec"] - outlet
    columns = {"hard": hard, "ec": np.full(len(hard), outlet)}
    return changed(belief, columns, ec_known=True, ec_var=CROSS_ZERO_SD**2)


def _ln_ec25(ec_us_cm: float, temp_c: float) -> float:
    ec25 = ec_us_cm * float(natural_factor(np.asarray(temp_c)))
    return math.log(ec25) if ec25 > 0.0 else math.nan


def _drop_test(belief: Belief, family: CurveFamily | None, test: DropTest) -> Floats:
    """Log likelihood of every count of a drop test; none where nothing can be said of the point."""
    found = np.zeros(len(belief.ln_weight))
    if family is None and test.point is not Point.RAW:
        return found
    raw, left = raw_of(belief), _left_at(belief, family, test.point)
    counts = (
        (test.hardness_mmol_l, test.hardness_step_mmol_l, raw.hardness_mmol_l, left[0]),
        (test.alkalinity_meq_l, test.alkalinity_step_meq_l, raw.alkalinity_meq_l, left[1]),
        (test.calcium_mmol_l, test.calcium_step_mmol_l, raw.calcium_mmol_l, left[2]),
    )
    for reading, step, in_raw, share in counts:
        if reading is not None:
            found = found + interval_ln_likelihood(in_raw * share, reading, step)
    return found


def _left_at(
    belief: Belief, family: CurveFamily | None, point: Point
) -> tuple[Floats, Floats, Floats]:
    """Shares of raw hardness, alkalinity and calcium that are left where the sample was taken."""
    if point is Point.RAW or family is None:
        whole = np.ones(len(belief.ln_weight))
        return whole, whole, whole
    now: Outlook = outlook(belief, family)
    bypass = np.zeros_like(now.bypass) if point is Point.TREATED else now.bypass
    behind = (now.behind.hardness, now.behind.alkalinity, now.behind.calcium)
    hardness, alkalinity, calcium = (bypass + (1.0 - bypass) * share for share in behind)
    return hardness, alkalinity, calcium


def interval_ln_likelihood(truth: Floats, reading: float, step: float) -> Floats:
    """Log probability of this count: the truth lies in (reading - step, reading], blurred by the
    operator's error, with a small chance of a slip by one drop and a smaller one of nonsense."""
    sd = OPERATOR_DROPS * step

    def within(shift: float) -> Floats:
        upper = normal_cdf((reading + shift - truth) / sd)
        return np.asarray(upper - normal_cdf((reading + shift - step - truth) / sd))

    found = (1.0 - SLIP) * within(0.0) + 0.5 * SLIP * (within(step) + within(-step))
    return np.log(found + 1e-3)


def _first_raw_test(belief: Belief, test: DropTest, rng: np.random.Generator) -> Belief:
    """The first count of raw water: guesses are drawn from what it leaves possible."""
    n = len(belief.ln_weight)

    def drawn(reading: float, step: float) -> Floats:
        truth = reading - step * (rng.random(n) + OPERATOR_DROPS * rng.standard_normal(n))
        return np.log(np.maximum(truth, 0.05 * step))

    columns = {}
    hardness = belief.cloud["ec"] + belief.cloud["hard"]
    if test.hardness_mmol_l is not None:
        hardness = drawn(test.hardness_mmol_l, test.hardness_step_mmol_l)
        columns["hard"] = hardness - belief.cloud["ec"]
    if test.alkalinity_meq_l is not None:
        alkalinity = drawn(test.alkalinity_meq_l, test.alkalinity_step_meq_l)
        columns["ratio"] = alkalinity - math.log(2.0) - hardness
    known = test.hardness_mmol_l is not None
    return changed(belief, columns, raw_known=known)


def _first_report(belief: Belief, report: UtilityReport, rng: np.random.Generator) -> Belief:
    """The first that is known of the raw water: guesses are drawn about what is stated."""
    n = len(belief.ln_weight)
    total, share = _stated(report)
    columns = {}
    hardness = belief.cloud["ec"] + belief.cloud["hard"]
    if total:
        hardness = math.log(total) + report.relative_sd * rng.standard_normal(n)
        columns["hard"] = hardness - belief.cloud["ec"]
    if report.alkalinity_meq_l:
        stated = math.log(report.alkalinity_meq_l) + report.relative_sd * rng.standard_normal(n)
        columns["ratio"] = stated - math.log(2.0) - hardness
    if share is not None:
        columns["calcium"] = np.clip(share + 0.03 * rng.standard_normal(n), 0.3, 0.99)
    return changed(belief, columns, raw_known=bool(total))


def _stated(report: UtilityReport) -> tuple[float | None, float | None]:
    """Total hardness (mmol/L) and calcium's share, as far as a report states them."""
    calcium, magnesium, total = (
        report.calcium_mmol_l,
        report.magnesium_mmol_l,
        report.hardness_mmol_l,
    )
    share = None
    if calcium is not None and magnesium is not None and calcium + magnesium > 0.0:
        total = calcium + magnesium if total is None else total
        share = calcium / (calcium + magnesium)
    elif calcium is not None and total:
        share = min(calcium / total, 1.0)
    return total, share


def _report(belief: Belief, report: UtilityReport) -> Floats:
    """Log likelihood of what the water company states for a year."""
    cloud = belief.cloud
    hardness = cloud["ec"] + cloud["hard"]
    total, share = _stated(report)
    found = np.zeros(len(hardness))
    if total:
        found = found - 0.5 * ((hardness - math.log(total)) / report.relative_sd) ** 2
    if report.alkalinity_meq_l:
        alkalinity = math.log(2.0) + hardness + cloud["ratio"]
        off = alkalinity - math.log(report.alkalinity_meq_l)
        found = found - 0.5 * (off / report.relative_sd) ** 2
    if share is not None:
        found = found - 0.5 * ((cloud["calcium"] - share) / 0.04) ** 2
    return found
