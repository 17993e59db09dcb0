"""A step in what the probes say: another raw water, a knocked bypass, a new cartridge, a probe.

A source switch is a step within hours that moves inlet and outlet together; exhaustion is a slope
over days that moves the outlet alone. A step must show in two readings running before it is
believed; until then those readings are held back, so that a lone odd one is simply left out.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.baseline import less_known
from analytics.belief import Belief, bypass_guesses, cartridge, chance, changed, restarted, shares
from analytics.evidence import Seen
from analytics.past import of_other_water
from analytics.samples import Floats
from analytics.setup import LineSetup

STEP_INLET: Final = 0.04
STEP_RATIO: Final = 0.035
STEP_LONE: Final = 0.04
"""Steps of ln(EC25) or of ln(outlet / inlet) that are more than a supply's daily ups and downs."""
GREATEST: Final = 1.2
"""No other source and no new cartridge moves ln(EC25) further than this (no source)."""
FADE: Final = 0.2
"""Weight of a new reading in the level that steps are measured from."""
FORGOTTEN_MS: Final = 4 * 86_400_000
"""A level older than this serves no more: what moved may have moved slowly."""

SWING_MS: Final = 3 * 86_400_000
"""A step taken back sooner than this was none of the water's."""

SOURCE, BYPASS, PROBE, EXHAUSTION = "source", "bypass", "probe", "exhaustion"
NEAR_END: Final = 0.85
MAY_BE_NEAR: Final = 0.15
"""Where the front may be this near (share of life, and how probable), a rise may be the front."""
LOOSE: Final = (0.06, 0.12)
"""How far (ln) hardness for each uS/cm of another source may lie off, whatever its conductivity:
with one probe (which may take something else for a source) and with two."""
CHANGED_WHEN_SPENT: Final = 0.6
"""What a sudden fall behind a spent bed adds to the odds of a new cartridge."""


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """Where the probes stood lately, and readings that were off, held back until the next."""

    inlet: float = math.nan
    outlet: float = math.nan
    at_ms: int = 0
    held: tuple[Seen, ...] = ()
    held_ms: int = 0


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """A step that was believed: when it began, by how much inlet and outlet moved (ln), what it
    most likely is and how likely."""

    at_ms: int
    what: str
    probability: float
    inlet: float
    outlet: float

    @property
    def reason(self) -> str:
        """How it showed."""
        if not math.isfinite(self.inlet):
            return "outlet-stepped-within-hours"
        if abs(self.inlet) <= STEP_INLET:
            return "outlet-alone-stepped-within-hours"
        if _together(self.inlet, self.outlet):
            return "inlet-and-outlet-stepped-together"
        return "inlet-alone-stepped-within-hours"


def watch_level(
    level: Level, seen: Seen, at_ms: int, pair: bool
) -> tuple[Level, tuple[Seen, ...], bool]:
    """Take one step's reading: the level after it, the readings that may now be weighed, and
    whether they begin with a step that is to be believed."""
    here = seen.ratio if pair else seen.outlet
    if not math.isfinite(here):
        return level, (), False
    if not math.isfinite(level.outlet) or at_ms - level.at_ms > FORGOTTEN_MS:
        return Level(inlet=seen.inlet, outlet=seen.outlet, at_ms=at_ms), (seen,), False
    if _absurd(level, seen, pair):
        return level, (), False
    if not _off(level, seen, pair):
        return _follow(level, seen, at_ms), (seen,), False
    if not level.held or not _alike(level.held[-1], seen, pair):
        return msgspec.structs.replace(level, held=(seen,), held_ms=at_ms), (), False
    after = Level(inlet=seen.inlet, outlet=seen.outlet, at_ms=at_ms)
    return after, (*level.held, seen), True


def _absurd(level: Level, seen: Seen, pair: bool) -> bool:
    """A step no change of water explains: the cell is in air, or shorted."""
    steps = [seen.outlet - level.outlet, *([seen.inlet - level.inlet] if pair else [])]
    return any(abs(step) > GREATEST for step in steps if math.isfinite(step))


def _off(level: Level, seen: Seen, pair: bool) -> bool:
    if not pair:
        return abs(seen.outlet - level.outlet) > STEP_LONE
    ratio = seen.ratio - (level.outlet - level.inlet)
    return abs(seen.inlet - level.inlet) > STEP_INLET or abs(ratio) > STEP_RATIO


def _alike(first: Seen, second: Seen, pair: bool) -> bool:
    """Whether two readings agree well enough to stand for one new level, or for one on its way."""
    near = abs(second.outlet - first.outlet) < 0.15
    return near and (not pair or abs(second.inlet - first.inlet) < 0.15)


def _follow(level: Level, seen: Seen, at_ms: int) -> Level:
    inlet = level.inlet + FADE * (seen.inlet - level.inlet)
    if not math.isfinite(inlet):
        inlet = seen.inlet if math.isfinite(seen.inlet) else level.inlet
    outlet = level.outlet + FADE * (seen.outlet - level.outlet)
    return Level(inlet=inlet, outlet=outlet, at_ms=at_ms)


def moved(
    before: Level,
    after: Level,
    at_ms: int,
    line: LineSetup,
    sees_bypass: bool,
    last: Change | None,
    near_end: float,
) -> Change:
    """What a believed step most likely is, by how inlet and outlet moved.

    One that takes back an earlier one within days is a probe's: no supply swings so. `near_end` is
    how probable it is that the front is near.
    """
    inlet, outlet = after.inlet - before.inlet, after.outlet - before.outlet
    if line.inlet_probe:
        if _together(inlet, outlet):
            return _change(at_ms, SOURCE, 0.95, inlet, outlet)
        if abs(inlet) > STEP_INLET:
            return _change(at_ms, PROBE, 0.7, inlet, outlet)
        return _change(at_ms, BYPASS if sees_bypass else PROBE, 0.6, inlet, outlet)
    if last is not None and at_ms - last.at_ms < SWING_MS and last.outlet * outlet < 0.0:
        return _change(at_ms, PROBE, 0.8, inlet, outlet)
    if sees_bypass and outlet > 0.0 and near_end > MAY_BE_NEAR:
        return _change(at_ms, EXHAUSTION, 0.6, math.nan, outlet)
    return _change(at_ms, SOURCE, 0.7 if sees_bypass else 0.9, math.nan, outlet)


def _together(inlet: float, outlet: float) -> bool:
    """Whether both moved one way: the outlet less, where the bed takes what differs."""
    return abs(inlet) > STEP_INLET and inlet * outlet > 0.0 and abs(outlet) > 0.015


def _change(at_ms: int, what: str, chance_of: float, inlet: float, outlet: float) -> Change:
    return Change(at_ms=at_ms, what=what, probability=chance_of, inlet=inlet, outlet=outlet)


def open_minded(
    belief: Belief, line: LineSetup, change: Change, sees_bypass: bool, seed: int
) -> Belief:
    """Let every guess try one explanation of a step: what follows will tell which one holds."""
    rng = chance(seed, belief.steps, 5)
    if line.inlet_probe and change.what == PROBE and abs(change.inlet) > STEP_INLET:
        return _inlet_probe_moved(belief, change)
    # the model's conductivity ratio starts anew: what it moves by here is no front
    anew = {"expected": np.full(len(belief.ln_weight), math.nan)}
    if line.inlet_probe and math.isfinite(change.inlet):
        anew["ec"] = belief.cloud["ec"] + change.inlet
    belief = changed(belief, anew, past=of_other_water(restarted(belief)))
    odds = _odds(line, change, sees_bypass, _beyond(belief, 1.0), _beyond(belief, NEAR_END))
    which = rng.choice(5, len(belief.ln_weight), p=odds)
    belief = _other_water(belief, line, change, which == 0, rng)
    belief = _other_bypass(belief, which == 1, rng)
    belief = _other_cartridge(belief, line, which == 2, rng)
    return changed(belief, less_known(belief.cloud, np.where(which == 3, 0.1**2, 0.0)))


def _inlet_probe_moved(belief: Belief, change: Change) -> Belief:
    """The inlet probe alone reads otherwise: the water is what it was."""
    cloud = belief.cloud
    columns = {
        "ec": cloud["ec"] + change.inlet,
        "hard": cloud["hard"] - change.inlet,
        "gain": cloud["gain"] - change.inlet,
    }
    return changed(belief, columns | less_known(cloud, 0.02**2))


def _beyond(belief: Belief, life: float) -> float:
    """How surely the cartridge is past this share of its life."""
    return float(shares(belief) @ (belief.cloud["life"] >= life))


def _odds(line: LineSetup, change: Change, sees_bypass: bool, spent: float, near: float) -> Floats:
    """Chances of another water, a moved bypass, a new cartridge, a probe at fault, and of nothing
    but what was believed already: a steep front looks like a step, too, where it is near. Whose
    cartridge is spent most likely changes it, and it is not always written down (common practice,
    no source)."""
    fell = change.outlet < 0.0
    bypass = 0.0
    if sees_bypass:
        bypass = 0.25 if line.bypass > 0.0 else 0.05
    new = 0.08 + CHANGED_WHEN_SPENT * spent if fell else 0.0
    if change.what == EXHAUSTION:
        odds = np.array([0.25, 0.5 * bypass, 0.0, 0.05, 0.6])
    elif change.what == PROBE and not line.inlet_probe:
        odds = np.array([0.15, 0.05, 0.0, 0.7, 0.1])
    elif not line.inlet_probe:
        odds = np.array([0.65, bypass, new, 0.15, 0.15])
    elif change.what == SOURCE:
        odds = np.array([0.96, 0.01, 0.01, 0.01, 0.01])
    else:
        front = 0.1 if fell else 0.1 + 4.0 * near
        odds = np.array([0.05, 3.0 * bypass, new, 0.15, front])
    return np.asarray(odds / odds.sum())


def _other_water(
    belief: Belief, line: LineSetup, change: Change, there: Floats, rng: np.random.Generator
) -> Belief:
    """Another source: its make-up is as uncertain as its conductivity is different."""
    cloud, n = belief.cloud, len(belief.ln_weight)
    step = abs(change.inlet if line.inlet_probe else change.outlet)
    loose = min(LOOSE[line.inlet_probe] + 0.5 * step, 0.35)
    columns = {
        "hard": cloud["hard"] + there * loose * rng.standard_normal(n),
        "ratio": cloud["ratio"] + there * loose * rng.standard_normal(n),
        "calcium": np.clip(cloud["calcium"] + there * 0.05 * rng.standard_normal(n), 0.3, 0.99),
    }
    columns |= less_known(cloud, np.where(there, 0.006**2, 0.0))
    if not line.inlet_probe:
        columns["ec_var"] = cloud["ec_var"] + np.where(there, (0.8 * step) ** 2, 0.0)
    return changed(belief, columns)


def _other_bypass(belief: Belief, there: Floats, rng: np.random.Generator) -> Belief:
    cloud = belief.cloud
    turned = cloud["bypass"] + rng.uniform(-0.35, 0.35, len(there))
    return changed(belief, {"bypass": np.where(there, np.clip(turned, 0.0, 0.9), cloud["bypass"])})


def _other_cartridge(
    belief: Belief, line: LineSetup, there: Floats, rng: np.random.Generator
) -> Belief:
    """A cartridge nobody announced: new."""
    cloud = belief.cloud
    columns = {n: np.where(there, new, cloud[n]) for n, new in cartridge(line, rng).items()}
    columns["life"] = np.where(there, 0.0, cloud["life"])
    return changed(belief, columns)


def bypass_set(belief: Belief, share: float, rng: np.random.Generator) -> Belief:
    """The bypass was turned to this share by hand."""
    past = msgspec.structs.replace(of_other_water(restarted(belief)), bypass=share)
    return changed(belief, {"bypass": bypass_guesses(rng, share)}, past=past)
