"""What each guess says the water is: raw, behind the medium, and blended."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.belief import Belief, changed
from analytics.column import lookup
from analytics.column.family import CurveFamily, Raw, Seen
from analytics.samples import Floats, Ints, Point
from analytics.setup import LineSetup

MOST_LIFE: Final = 1.59


class Outlook(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Every guess at one moment: raw water, what its bed makes of it, and where that lies."""

    raw: Raw
    behind: Seen
    shape: Ints
    ln_ratio: Floats
    bypass: Floats


def raw_of(belief: Belief) -> Raw:
    """Raw water as each guess has it."""
    cloud = belief.cloud
    hardness = np.exp(cloud["ec"] + cloud["hard"])
    return Raw(
        hardness_mmol_l=hardness,
        calcium_mmol_l=cloud["calcium"] * hardness,
        alkalinity_meq_l=2.0 * hardness * np.exp(cloud["ratio"]),
        ec25_us_cm=np.exp(cloud["ec"]),
    )


def outlook(belief: Belief, family: CurveFamily) -> Outlook:
    """What every guess says now."""
    raw = raw_of(belief)
    ln_ratio = lookup.ln_ratio_of(family, raw)
    shape = belief.cloud["shape"].astype(np.int64)
    used = np.clip(belief.cloud["life"], 1e-6, MOST_LIFE)
    used = np.where(used < 1.0, used ** (1.0 + belief.cloud["wave"]), used)
    return Outlook(
        raw=raw,
        behind=lookup.look(family, used, shape, ln_ratio),
        shape=shape,
        ln_ratio=ln_ratio,
        bypass=belief.cloud["bypass"],
    )


def ln_outlet_over_raw(belief: Belief, family: CurveFamily, now: Outlook) -> Floats:
    """ln(outlet EC25 / raw EC25) of every guess, blended by ions."""
    deeper = 1.0 + belief.cloud["depth"]
    behind = msgspec.structs.replace(
        now.behind, fall_us_cm_per_meq=now.behind.fall_us_cm_per_meq * deeper
    )
    outlet = lookup.ec25_blended(family, behind, now.raw, now.bypass)
    astray = belief.cloud["astray"] * np.minimum(belief.cloud["life"], MOST_LIFE)
    return np.log(np.maximum(outlet / now.raw.ec25_us_cm, 0.02)) + astray


def taken_out_us_cm(belief: Belief, family: CurveFamily, now: Outlook) -> Floats:
    """How far the outlet lies below raw water, in uS/cm, whatever the raw conductivity is."""
    return np.asarray(now.raw.ec25_us_cm * (1.0 - np.exp(ln_outlet_over_raw(belief, family, now))))


def kind_at(family: CurveFamily, now: Outlook, point: Point) -> Floats:
    """Hardness of the medium's kind at a point, mmol/L, of every guess."""
    if point is Point.RAW:
        return lookup.raw_kind_mmol_l(family, now.raw)
    bypass = np.zeros_like(now.bypass) if point is Point.TREATED else now.bypass
    return lookup.blended_kind_mmol_l(family, now.behind, now.raw, bypass)


def with_lives(belief: Belief, line: LineSetup, family: CurveFamily | None) -> Belief:
    """The belief with the litres of a whole life worked out for every guess's water of now."""
    return changed(belief, {"a_life": _litres_a_life(belief, line, family)})


def _litres_a_life(belief: Belief, line: LineSetup, family: CurveFamily | None) -> Floats:
    """Litres through the head, as the stated K-factor counts, that use a whole life; NaN where
    neither a capacity nor litres are stated."""
    cloud = belief.cloud
    if family is not None and line.capacity_mmol is not None:
        raw = raw_of(belief)
        shape = cloud["shape"].astype(np.int64)
        factor = lookup.capacity_factor(family, shape, lookup.ln_ratio_of(family, raw))
        taken = line.capacity_mmol * np.exp(cloud["capacity"] + cloud["k"]) * factor
        fed = (1.0 - cloud["bypass"]) * lookup.raw_kind_mmol_l(family, raw)
        return np.asarray(taken / np.maximum(fed, 1e-9))
    if line.rated_l is not None:
        return np.asarray(line.rated_l * np.exp(cloud["capacity"] + cloud["k"]))
    return np.full(len(belief.ln_weight), np.nan)
