"""Reading a curve family for many guesses at once: outlet water for every guess about a bed."""

from __future__ import annotations

import numpy as np

from analytics.column.curves import GRID, blended_ec25
from analytics.column.family import CurveFamily, Raw, Seen
from analytics.samples import Floats, Ints
from analytics.setup import CapacityKind


def look(family: CurveFamily, used: Floats, shape: Ints, ln_ratio: Floats) -> Seen:
    """Ratios behind the bed at these shares of life; linear between places and ratios.

    `ln_ratio` is ln of alkalinity over hardness relative to the family's own water (`ln_ratio_of`).
    Outside of the table its edge holds.
    """
    step = GRID[1] - GRID[0]
    place = np.clip(used / step, 0.0, len(GRID) - 1.000001)
    low = place.astype(np.int64)
    part = (place - low)[..., None]
    node, between = _ratio_place(family, ln_ratio)
    first = _along(family, node, shape, low, part)
    second = _along(family, node + 1, shape, low, part)
    found = first + between[..., None] * (second - first)
    return Seen(
        hardness=found[..., 0],
        calcium=found[..., 1],
        alkalinity=found[..., 2],
        fall_us_cm_per_meq=found[..., 3],
        bend=found[..., 4],
        acid=found[..., 5],
    )


def _along(family: CurveFamily, node: Ints, shape: Ints, low: Ints, part: Floats) -> Floats:
    start = family.table[node, shape, low]
    result: Floats = start + part * (family.table[node, shape, low + 1] - start)
    return result


def _ratio_place(family: CurveFamily, ln_ratio: Floats) -> tuple[Ints, Floats]:
    nodes = family.ln_ratios
    node = np.clip(np.searchsorted(nodes, ln_ratio) - 1, 0, len(nodes) - 2)
    between = (ln_ratio - nodes[node]) / (nodes[node + 1] - nodes[node])
    return node, np.clip(between, 0.0, 1.0)


def ln_ratio_of(family: CurveFamily, raw: Raw) -> Floats:
    """ln of alkalinity over hardness of these guesses, relative to the family's own water."""
    own = float(family.raw.alkalinity_meq_l) / float(family.raw.ca_mmol_l + family.raw.mg_mmol_l)
    here = raw.alkalinity_meq_l / np.maximum(raw.hardness_mmol_l, 1e-6)
    result: Floats = np.log(np.maximum(here, 1e-6) / max(own, 1e-6))
    return result


def capacity_factor(family: CurveFamily, shape: Ints, ln_ratio: Floats) -> Floats:
    """Capacity in this water over rated capacity (see `CurveFamily.capacity_factor`)."""
    node, between = _ratio_place(family, ln_ratio)
    low, high = family.capacity_factor[node, shape], family.capacity_factor[node + 1, shape]
    result: Floats = low + between * (high - low)
    return result


def ec25_blended(family: CurveFamily, seen: Seen, raw: Raw, bypass: Floats) -> Floats:
    """EC25 behind the filter head, uS/cm."""
    carrier = raw.alkalinity_meq_l if family.per_alkalinity else 2.0 * raw.hardness_mmol_l
    ec = raw.ec25_us_cm
    treated = ec - seen.fall_us_cm_per_meq * carrier
    return blended_ec25(ec, treated, seen.bend * ec, seen.acid * ec, bypass)


def kind_mmol_l(
    kind: CapacityKind, hardness: Floats, calcium: Floats, alkalinity_meq_l: Floats
) -> Floats:
    """Hardness of a kind from the three figures that decide it, mmol/L."""
    if kind is CapacityKind.CALCIUM:
        return calcium
    if kind is CapacityKind.CARBONATE:
        return np.minimum(hardness, np.maximum(alkalinity_meq_l, 0.0) / 2.0)
    return hardness


def raw_kind_mmol_l(family: CurveFamily, raw: Raw) -> Floats:
    """Raw hardness of the kind the medium works on, mmol/L."""
    return kind_mmol_l(family.kind, raw.hardness_mmol_l, raw.calcium_mmol_l, raw.alkalinity_meq_l)


def blended_kind_mmol_l(family: CurveFamily, seen: Seen, raw: Raw, bypass: Floats) -> Floats:
    """Hardness of the medium's kind behind the filter head, mmol/L, blended by ions."""
    return kind_mmol_l(
        family.kind,
        raw.hardness_mmol_l * _left(seen.hardness, bypass),
        raw.calcium_mmol_l * _left(seen.calcium, bypass),
        raw.alkalinity_meq_l * _left(seen.alkalinity, bypass),
    )


def _left(treated_share: Floats, bypass: Floats) -> Floats:
    return bypass + (1.0 - bypass) * treated_share
