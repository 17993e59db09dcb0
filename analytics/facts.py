"""What dated facts do to the guesses: cartridges, calibrations, tests, settings, hand readings."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.baseline import GAIN_SD, known_gain, new_probe
from analytics.belief import (
    DROP_TESTS,
    LITRES,
    Belief,
    cartridge,
    chance,
    changed,
    restarted,
    reweigh,
    shares,
)
from analytics.chemistry.temperature import f25_where_defined
from analytics.column.family import CurveFamily
from analytics.contradiction import weigh_test
from analytics.guess import with_lives
from analytics.past import with_test, without_looks
from analytics.samples import (
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    CrossZero,
    DropTest,
    Floats,
    KFactorSet,
    MeterReplaced,
    Part,
    Point,
    ProbeCalibrated,
    UtilityReport,
)
from analytics.setup import LineSetup
from analytics.source_change import bypass_set
from analytics.tested import Tested
from analytics.titration import first_report, report_ln_likelihood

CROSS_ZERO_SD: Final = 0.004
"""What two probes still differ by after they read one water (common practice, no source)."""
FAR_OFF: Final = 4.0
"""A hand reading so many spreads away says that the factor itself is wrong."""
LEAST_TO_COMPARE_L: Final = 50.0
"""Less water than this between two hand readings tells nothing of the flow meter."""


def take_event(
    belief: Belief, line: LineSetup, family: CurveFamily | None, event: AnyEvent, seed: int
) -> Belief:
    """What a dated fact changes."""
    rng = chance(seed, belief.steps, 4)
    match event:
        case DropTest():
            told = weigh_test(belief, family, event, rng)
            return msgspec.structs.replace(told, past=with_test(told.past, told.litres, event))
        case UtilityReport():
            if not belief.raw_known:
                known = first_report(belief, event, rng)
                return msgspec.structs.replace(known, report=event)
            return reweigh(belief, report_ln_likelihood(belief, event), DROP_TESTS)
        case CartridgeFitted():
            return _fit(belief, line, family, event, rng)
        case BypassSet():
            return bypass_set(belief, event.share, rng)
        case KFactorSet():
            off = math.log(event.pulses_per_l / line.pulses_per_l)
            return _recounted(belief, off, event.relative_sd, rng)
        case CrossZero() | ProbeCalibrated() | MeterReplaced():
            anew = msgspec.structs.replace(belief, past=restarted(belief))
            return _of_meters(anew, line, event, rng)
        case _:
            return belief


def _of_meters(
    belief: Belief,
    line: LineSetup,
    event: CrossZero | ProbeCalibrated | MeterReplaced,
    rng: np.random.Generator,
) -> Belief:
    match event:
        case CrossZero():
            return _cross_zero(belief, line, event)
        case ProbeCalibrated():
            return _calibrate(belief, event)
        case MeterReplaced():
            return _replaced(belief, line, event, rng)


def compare_litres(
    line: LineSetup, belief: Belief, read_l: float, counted_l: float, seed: int
) -> Belief:
    """Weigh the K-factor (or the stated use) by a water meter that was read by hand twice.

    Where no guess is near what it says, the factor is far off: all guesses are drawn about the
    reading, and what has passed since the cartridge was fitted is counted anew by it.
    """
    if counted_l < LEAST_TO_COMPARE_L or read_l < LEAST_TO_COMPARE_L:
        return belief
    said = math.log(counted_l / read_l)
    sd = math.hypot(0.01 if line.flow_meter else 0.04, 1.0 / read_l)
    off = said - belief.cloud["k"]
    middle = float(shares(belief) @ off)
    spread = math.sqrt(float(shares(belief) @ (off - middle) ** 2) + sd**2)
    if abs(middle) > FAR_OFF * spread:
        return _recounted(belief, said, sd, chance(seed, belief.steps, 11))
    return reweigh(belief, np.maximum(-0.5 * (off / sd) ** 2, -8.0), LITRES)


def _recounted(belief: Belief, off: float, sd: float, rng: np.random.Generator) -> Belief:
    """The K-factor is known: the litres since the cartridge was fitted, too, were counted by it."""
    cloud = belief.cloud
    k = off + sd * rng.standard_normal(len(belief.ln_weight))
    if belief.started_unknown:
        return changed(belief, {"k": k})
    return changed(belief, {"k": k, "life": cloud["life"] * np.exp(cloud["k"] - k)})


def _fit(
    belief: Belief,
    line: LineSetup,
    family: CurveFamily | None,
    event: CartridgeFitted,
    rng: np.random.Generator,
) -> Belief:
    """Another cartridge is in: new, part used by a stated amount, or of unknown use."""
    n = len(belief.ln_weight)
    anew = {"expected": np.full(n, math.nan)}
    anew["pace"] = np.zeros(n)
    belief = changed(
        belief,
        cartridge(line, rng) | anew,
        nats=(0.35, 0.0, 0.0),
        litres=0.0,
        tested=_of_raw(belief),
        depth_known=False,
        past=without_looks(belief.past, whole=True, cartridge=True),
    )
    if event.litres_before is None:
        return changed(belief, {"life": rng.random(n)}, started_unknown=True)
    if event.litres_before <= 0.0 and event.litres_before_sd <= 0.0:
        return changed(belief, {"life": np.zeros(n)}, started_unknown=False)
    passed = np.maximum(event.litres_before + event.litres_before_sd * rng.standard_normal(n), 0.0)
    a_life = with_lives(belief, line, family).cloud["a_life"]
    life = passed / np.maximum(a_life, 1e-6)
    life = np.where(np.isfinite(life), life, rng.random(n))
    vague = event.litres_before_sd > 0.0
    return changed(belief, {"life": life}, litres=event.litres_before, started_unknown=vague)


def _of_raw(belief: Belief) -> tuple[Tested, ...]:
    """Tests of raw water hold for the next cartridge, too."""
    return tuple(t for t in belief.tested if t.point == Point.RAW.value)


def _cross_zero(belief: Belief, line: LineSetup, event: CrossZero) -> Belief:
    """Both probes read raw water: what they differ by is their gain. One probe: raw EC25."""
    outlet, n = _ln_ec25(event.outlet_us_cm, event.outlet_temp_c), len(belief.ln_weight)
    cloud = belief.cloud
    if line.inlet_probe:
        if event.inlet_us_cm is None or event.inlet_temp_c is None:
            return belief
        off = outlet - _ln_ec25(event.inlet_us_cm, event.inlet_temp_c)
        if not math.isfinite(off):
            return belief
        return changed(belief, known_gain(n, off, CROSS_ZERO_SD))
    if not math.isfinite(outlet):
        return belief
    hard = cloud["hard"] + cloud["ec"] - outlet
    columns = {
        "hard": hard,
        "ec": np.full(n, outlet),
        "ec_var": np.full(n, CROSS_ZERO_SD**2),
    }
    return changed(belief, columns | known_gain(n, 0.0, 1e-4), ec_known=True)


def _calibrate(belief: Belief, event: ProbeCalibrated) -> Belief:
    """One probe was checked in a standard: it reads `1 / gain` of the truth; the other is as
    uncertain as a probe is that nobody checked."""
    n, off = len(belief.ln_weight), math.log(event.gain)
    if event.probe == "inlet":
        return belief
    if event.dry_us_cm:
        usual = float(np.exp(np.average(belief.cloud["ec"], weights=np.exp(belief.ln_weight))))
        off += math.log1p(-min(event.dry_us_cm / usual, 0.5))
    spread = math.hypot(event.relative_sd, GAIN_SD / math.sqrt(2.0))
    before = belief.cloud["gain_var"]
    both = 1.0 / (1.0 / np.maximum(before, 1e-12) + 1.0 / spread**2)
    gain = both * (belief.cloud["gain"] / np.maximum(before, 1e-12) - off / spread**2)
    columns = {"gain": gain, "gain_var": both, "free": gain, "free_var": both}
    return changed(belief, columns | {"gain_slope": np.zeros(n), "fouled": np.zeros(n)})


def _replaced(
    belief: Belief, line: LineSetup, event: MeterReplaced, rng: np.random.Generator
) -> Belief:
    """Another probe or flow meter is in: as uncertain as one that nobody checked."""
    n = len(belief.ln_weight)
    if event.part == Part.FLOW_METER:
        stated = event.pulses_per_l or line.pulses_per_l
        k = math.log(stated / line.pulses_per_l) + event.relative_sd * rng.standard_normal(n)
        return changed(belief, {"k": k, "meter": np.zeros(n), "unseen": np.zeros(n)})
    fresh = new_probe(n, GAIN_SD if line.inlet_probe else 1e-4)
    if line.inlet_probe:
        columns = dict[str, Floats]()
        if event.part == Part.INLET_PROBE:  # the reference itself reads otherwise now
            columns["ec_var"] = belief.cloud["ec_var"] + GAIN_SD**2
        return changed(belief, fresh | columns)
    if event.part == Part.OUTLET_PROBE:
        return changed(belief, fresh | {"ec_var": belief.cloud["ec_var"] + GAIN_SD**2})
    return belief


def _ln_ec25(ec_us_cm: float, temp_c: float) -> float:
    ec25 = ec_us_cm * float(f25_where_defined(temp_c))
    return math.log(ec25) if ec25 > 0.0 else math.nan
