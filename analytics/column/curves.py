"""Breakthrough curves: treated water against how far the bed has been used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, balanced, water
from analytics.column.carbonate import ph
from analytics.column.exchanger import Exchanger, sites
from analytics.column.life import Life, alkalinity_meq_l, kind_meq_l, live
from analytics.column.streams import mixed
from analytics.samples import Floats
from analytics.setup import CapacityKind

GRID: Final[Floats] = np.linspace(0.0, 1.6, 161)
"""Shares of life for which curves are drawn; 1 is the end of capacity."""
END_SHARE: Final = 0.2
FIFTH: Final = 0.2
"""Bypass at which, beside an even blend, the conductivity of blends is computed by ions."""
ACID_BYPASS: Final = 0.045
"""Bypass that takes away all but 1/e of the free acid (fitted to blends of tap waters by ions)."""
EARLY: Final = (0.05, 0.45)
"""Fresh leakage is the median over this part of life: a bed's first litres can differ."""


class Curves(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What a bed makes of one raw water, along its life. Arrays end in (variant, place on `grid`).

    `grid` is raw equivalents of the kind fed to the bed over those fed up to the end of capacity.
    `load` is the same for equivalents taken. `share` is treated over raw of the kind: fresh
    leakage at first, 1 when spent; removed share is 1 - share. `yield_` is equivalents of the kind
    fed up to the end per equivalent of sites: it tells how capacity moves with the water.
    `bend_us_cm` is how far EC25 of an even blend lies above the mean of raw and treated, times 4;
    `acid_us_cm` is conductivity of free acid that the first few per cent of bypass take away;
    `blended_ec25` puts them together.
    `ended` is False where the water has no end of capacity for this bed within what was run.
    """

    grid: Floats
    cations: Floats
    alkalinity: Floats
    share: Floats
    load: Floats
    ph: Floats
    ec25_us_cm: Floats
    bend_us_cm: Floats
    acid_us_cm: Floats
    raw_ec25_us_cm: Floats
    raw_kind_meq: Floats
    leakage: Floats
    yield_: Floats
    ended: NDArray[np.bool_]


def breakthrough_curves(
    exchangers: Sequence[Exchanger],
    raw: Water,
    *,
    kind: CapacityKind,
    spread: float = 0.10,
    end_share: float = END_SHARE,
    bypass: float = 0.0,
) -> Curves:
    """Curves of these beds with these waters (one of either stands for all).

    `spread` is the standard deviation of ln velocity over the bed's streams, the sharpness of the
    front. The end of capacity is where blended water of the kind reaches
    raw (b + (1 - b)(leak + end_share (1 - leak))).
    """
    life = live(sites(exchangers), raw, kind)
    return drawn(mixed(life, spread), raw, kind=kind, end_share=end_share, bypass=bypass)


def drawn(life: Life, raw: Water, *, kind: CapacityKind, end_share: float, bypass: float) -> Curves:
    """Curves of a life that has been run."""
    blended = _blended_share(life, kind, bypass)
    leakage, end, ended = _end(life.fed, blended, end_share)
    cations = _on_grid(life, end)
    entering = life.entering
    alkalinity = np.moveaxis(alkalinity_meq_l(np.moveaxis(cations, -1, 0), entering), 0, -1)
    share = np.moveaxis(_blended_share_of(np.moveaxis(cations, -1, 0), life, kind, 0.0), 0, -1)
    treated = treated_water(raw, cations, alkalinity)
    gamma, dic = entering.gamma[:, None], entering.dic_mmol[:, None]
    raw_ec, treated_ec, half_ec, fifth_ec = _conductivities(raw, treated)
    bend = 4.0 * half_ec - 2.0 * (raw_ec + treated_ec)
    line = blended_ec25(raw_ec, treated_ec, bend, np.zeros(1), np.array(FIFTH))
    return Curves(
        grid=GRID,
        cations=cations,
        alkalinity=alkalinity,
        share=share,
        load=_load(share),
        ph=ph(alkalinity, dic, gamma),
        ec25_us_cm=treated_ec,
        bend_us_cm=bend,
        acid_us_cm=(fifth_ec - line) / _acid_left(np.array(FIFTH)),
        raw_ec25_us_cm=raw_ec[:, 0],
        raw_kind_meq=kind_meq_l(entering.cations, entering.alkalinity_meq, kind),
        leakage=leakage,
        yield_=end,
        ended=ended,
    )


def _blended_share(life: Life, kind: CapacityKind, bypass: float) -> Floats:
    return _blended_share_of(life.cations, life, kind, bypass)


def _blended_share_of(cations: Floats, life: Life, kind: CapacityKind, bypass: float) -> Floats:
    """Hardness of the kind behind the bed over that of raw water, blended by ions, then with the
    bypass taken off again; 1 where the raw water has none. Axis 0 is time."""
    entering = life.entering
    blend = bypass * entering.cations + (1.0 - bypass) * cations
    raw = kind_meq_l(entering.cations, entering.alkalinity_meq, kind)
    found = kind_meq_l(blend, alkalinity_meq_l(blend, entering), kind)
    share = np.where(raw > 1e-9, found / np.maximum(raw, 1e-9), 1.0)
    result: Floats = (share - bypass) / (1.0 - bypass)
    return result


def _end(fed: Floats, share: Floats, end_share: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Fresh leakage, throughput at the end, and whether there was one, for each variant."""
    leakage = np.median(share[: max(len(share) // 8, 1)], axis=0)
    for _ in range(2):
        end, ended = _crossing(fed, share, leakage + end_share * (1.0 - leakage))
        early = (fed >= EARLY[0] * end) & (fed <= EARLY[1] * end)
        leakage = np.nanmedian(np.where(early, share, np.nan), axis=0)
    end, ended = _crossing(fed, share, leakage + end_share * (1.0 - leakage))
    return leakage, end, ended


def _crossing(fed: Floats, share: Floats, level: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Where each share last rises through its level, and whether it does."""
    below = share < level
    last = len(share) - 1 - np.argmax(below[::-1], axis=0)
    ended = below.any(axis=0) & (last < len(share) - 1)
    low = np.where(ended, last, len(share) - 2)
    columns = np.arange(share.shape[1])
    s0, s1 = share[low, columns], share[low + 1, columns]
    part = np.clip((level - s0) / np.where(s1 > s0, s1 - s0, 1.0), 0.0, 1.0)
    part = np.where(ended, part, 1.0)
    return fed[low, columns] + part * (fed[low + 1, columns] - fed[low, columns]), ended


def _on_grid(life: Life, end: Floats) -> Floats:
    """Cations on the grid: (ion, variant, place)."""
    rows = [
        [np.interp(GRID * end[v], life.fed[:, v], life.cations[:, i, v]) for v in range(len(end))]
        for i in range(4)
    ]
    return np.array(rows)


def treated_water(raw: Water, cations: Floats, alkalinity: Floats) -> Water:
    """Water behind the bed: its cations, the raw water's anions and inorganic carbon."""
    even = balanced(raw)
    anions = {
        name: np.atleast_1d(getattr(even, f"{name}_mmol_l"))[:, None]
        for name in ("cl", "so4", "no3", "dic")
    }
    ca, mg, na, k = cations
    return water(ca=ca, mg=mg, na=na, k=k, alkalinity=alkalinity, **anions)


def _conductivities(raw: Water, treated: Water) -> tuple[Floats, Floats, Floats, Floats]:
    """EC25 of raw, treated, and blends with half and a fifth of raw; places in the last axis."""
    even = balanced(raw)
    first = {n: np.atleast_1d(getattr(even, n))[:, None] for n in Water.__struct_fields__}
    shares = np.array([0.0, 0.5, FIFTH])[:, None, None]
    blends = {n: shares * first[n] + (1.0 - shares) * getattr(treated, n) for n in first}
    behind, half, fifth = ec25_us_cm(Water(**blends))
    return ec25_us_cm(Water(**first)), behind, half, fifth


def blended_ec25(
    raw: Floats, treated: Floats, bend: Floats, acid: Floats, bypass: Floats
) -> Floats:
    """EC25 of a blend with bypass b, uS/cm: b raw + (1 - b) treated + b (1 - b) bend, and acid.

    The parabola alone is off by up to 1.1 % of raw behind a hydrogen medium, whose free acid is
    gone with a little bypass; with `acid` a blend by ions is met within 0.15 %.
    """
    through = 1.0 - bypass
    return bypass * raw + through * (treated + bypass * bend) + acid * _acid_left(bypass)


def _acid_left(bypass: Floats) -> Floats:
    """Departure from the parabola through b = 0, 0.5 and 1 for a part that decays with b."""
    result: Floats = (1.0 - bypass) * (2.0 * bypass - 1.0 + np.exp(-bypass / ACID_BYPASS))
    return result


def _load(share: Floats) -> Floats:
    """Equivalents taken, as a share of those taken up to the end of capacity."""
    removed = 1.0 - share
    steps = 0.5 * (removed[..., 1:] + removed[..., :-1]) * np.diff(GRID)
    taken = np.concatenate((np.zeros_like(share[..., :1]), np.cumsum(steps, axis=-1)), axis=-1)
    at_end = np.apply_along_axis(lambda row: np.interp(1.0, GRID, row), -1, taken)
    result: Floats = taken / np.maximum(at_end, 1e-9)[..., None]
    return result
