"""Which species a water consists of: ion pairs, activities and pH together.

The mass balances of the ions, of inorganic carbon and of alkalinity are solved at once for many
waters: each round brings every ion's free activity in line with its total, and moves pH by one
Newton step of the alkalinity balance

    alkalinity = [HCO3] + 2 [CO3] + their pairs + [OH] + [CaOH] + [MgOH] - [H] - [HSO4].

Amounts per litre become amounts per kilogram of water with the density of water at 25 C.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.solvent import debye_a, debye_b
from analytics.chemistry.species import PARTS, PHREEQC_386, Constants, log_k
from analytics.chemistry.water import FIELDS, IONS, WATER_KG_PER_L, Water, stacked
from analytics.errors import ModelError
from analytics.samples import Floats, Ints

LN_10: Final = float(np.log(10.0))
NOTHING_MOL_KG: Final = 1e-30
"""Stands for an ion that is not there, so that its logarithm exists."""
MANY_AT_ONCE: Final = 4096
"""Waters solved in one go; the arrays of so many stay in the processor's cache."""
QUICK_ROUNDS: Final = 40
CAREFUL_ROUNDS: Final = 1500
CLOSE_ENOUGH: Final = 1e-8
"""Largest change of a logarithm or, relatively, of ionic strength in the last round."""
LEAST_ROUNDS: Final = 4
LONGEST_STEP: Final = 2.0

_METALS = 4
_SO4 = PARTS.index("so4")
_CO3 = PARTS.index("co3")
_H = PARTS.index("h")


class Speciation(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Every species of one or many waters at a temperature.

    `molal` holds mol per kg of water, species first, then the shape of the waters; `log_activity`
    is log10 of the activity in the same layout.
    """

    constants: Constants
    temp_c: Floats
    molal: Floats
    log_activity: Floats
    ionic_strength: Floats

    def place(self, name: str) -> int:
        """Row of a species."""
        return [s.name for s in self.constants.species].index(name)

    def molality(self, name: str) -> Floats:
        """mol/kg of one species, by its name in `species` without the charge ("CaHCO3")."""
        return np.asarray(self.molal[self.place(name)])

    def log10_activity(self, name: str) -> Floats:
        """log10 of the activity of one species."""
        return np.asarray(self.log_activity[self.place(name)])

    @property
    def ph(self) -> Floats:
        """pH on the activity scale."""
        return -self.log10_activity("H")

    def dic_mmol_l(self) -> Floats:
        """All inorganic carbon, mmol/L."""
        carbon = np.array([s.counts[_CO3] for s in self.constants.species], dtype=np.float64)
        return np.asarray(np.tensordot(carbon, self.molal, 1) * 1000 * WATER_KG_PER_L)


class _Matter(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The species table as arrays at one temperature (column) or one temperature each."""

    counts: Floats
    squares: Floats
    """Rows: charge squared; charge squared times how much of each part a species holds."""
    ln_k: Floats
    slope: Floats
    size: Floats
    linear: Floats
    of_ion: Floats
    """How much of each strong ion a species holds, metals in their pairs left out."""
    pairs: Ints
    """Rows of the pairs of a metal with carbonate, bicarbonate or sulphate,"""
    pair_kinds: Ints
    """which of these three it is,"""
    of_pair: Floats
    """and how much of each metal it holds."""
    carbon: Floats
    """Rows: carbon species with no, one and two H; species that give OH; species that take H."""

    def of_waters(self, chosen: Ints) -> _Matter:
        """The table for some of the waters, where each has its own temperature."""
        if self.ln_k.shape[1] == 1:
            return self
        each = {n: getattr(self, n)[:, chosen] for n in ("ln_k", "slope", "size", "linear")}
        return msgspec.structs.replace(self, **each)


def speciate(
    source: Water, temp_c: float | Floats = 25.0, constants: Constants = PHREEQC_386
) -> Speciation:
    """The species of a water whose inorganic carbon and alkalinity are known.

    Heating a water in a closed vessel keeps both, so the same call at another temperature is
    that. Raises ModelError where no solution exists.
    """
    return _in_parts(source, None, temp_c, constants)


def speciate_at_ph(
    source: Water,
    ph: float | Floats,
    temp_c: float | Floats = 25.0,
    constants: Constants = PHREEQC_386,
) -> Speciation:
    """The species of a water whose alkalinity and pH are known; `dic_mmol_l` is not looked at.

    Raises ModelError where the alkalinity cannot be at this pH.
    """
    return _in_parts(source, np.asarray(ph, dtype=np.float64), temp_c, constants)


def _in_parts(
    source: Water, ph: Floats | None, temp_c: float | Floats, constants: Constants
) -> Speciation:
    """Flatten, solve `MANY_AT_ONCE` waters at a time, and give the shape back."""
    warm = np.asarray(temp_c, dtype=np.float64)
    shape = np.broadcast_shapes(source.shape, warm.shape, () if ph is None else ph.shape)
    rows = stacked(source) / (1000 * WATER_KG_PER_L)
    rows = np.broadcast_to(
        rows.reshape(len(FIELDS), *(1,) * (len(shape) - rows.ndim + 1), *rows.shape[1:]),
        (len(FIELDS), *shape),
    ).reshape(len(FIELDS), -1)
    each = None if warm.size == 1 else np.broadcast_to(warm, shape).ravel()
    matter = _matter(constants, warm.reshape(-1)[:1])
    sour = None if ph is None else np.broadcast_to(ph, shape).ravel()
    count = rows.shape[1]
    molal = np.empty((len(constants.species), count))
    ln_activity = np.empty_like(molal)
    for start in range(0, count, MANY_AT_ONCE):
        part = slice(start, min(start + MANY_AT_ONCE, count))
        here = matter if each is None else _matter(constants, each[part])
        molal[:, part], ln_activity[:, part] = _solve(
            rows[:, part], None if sour is None else sour[part], here
        )
    square = np.array([s.charge**2 for s in constants.species], dtype=np.float64)
    return Speciation(
        constants=constants,
        temp_c=warm,
        molal=molal.reshape(-1, *shape),
        log_activity=(ln_activity / LN_10).reshape(-1, *shape),
        ionic_strength=(0.5 * square @ molal).reshape(shape),
    )


def _matter(constants: Constants, temp_c: Floats) -> _Matter:
    """The table at these temperatures (one, or one for each water)."""
    table = constants.species
    counts = np.array([s.counts for s in table], dtype=np.float64)
    square = np.array([[float(s.charge**2)] for s in table])
    a, b = debye_a(temp_c), debye_b(temp_c)
    size = np.array([b * s.activity[0] if s.activity else np.ones_like(b) for s in table])
    linear = np.array(
        [s.activity[1] + 0 * a if s.activity else 0.3 * a * s.charge**2 for s in table]
    )
    carbon, hydrogen, sulphate = counts[:, _CO3], counts[:, _H], counts[:, _SO4]
    paired = (counts[:, :_METALS].sum(axis=1) > 0) & (carbon + sulphate > 0)
    of_ion = counts[:, : len(IONS)].T.copy()
    of_ion[:_METALS, paired] = 0.0
    kinds = (
        (carbon > 0) & (hydrogen == 0),
        (carbon > 0) & (hydrogen == 1),
        (carbon > 0) & (hydrogen == 2),
        hydrogen < 0,
        (carbon == 0) & (hydrogen > 0),
    )
    return _Matter(
        counts=counts,
        squares=np.concatenate([square, square * counts], axis=1).T.copy(),
        ln_k=LN_10 * np.array([log_k(s.log_k, temp_c) for s in table]),
        slope=LN_10 * a * square,
        size=size,
        linear=LN_10 * linear,
        of_ion=of_ion,
        pairs=np.flatnonzero(paired),
        pair_kinds=np.where(sulphate > 0, 2, hydrogen)[paired].astype(np.int64),
        of_pair=counts[paired, :_METALS].T.copy(),
        carbon=np.array(kinds, dtype=np.float64),
    )


def _solve(rows: Floats, ph: Floats | None, matter: _Matter) -> tuple[Floats, Floats]:
    """Molalities and ln activities, species by waters, of `rows` in mol/kg.

    Waters that full steps do not settle (hot, and nearly all calcium paired) are solved again with
    half steps.
    """
    molal, ln_activity, change = _iterated(rows, ph, matter, QUICK_ROUNDS, 1.0)
    left = np.flatnonzero(change >= CLOSE_ENOUGH)
    if left.size:
        sour = None if ph is None else ph[left]
        molal[:, left], ln_activity[:, left], change = _iterated(
            rows[:, left], sour, matter.of_waters(left), CAREFUL_ROUNDS, 0.5
        )
        if np.any(change >= CLOSE_ENOUGH):
            raise ModelError(
                "the chemistry of this water has no solution",
                "Check that hardness, alkalinity and pH can be true together.",
            )
    return molal, ln_activity


def _iterated(
    rows: Floats, ph: Floats | None, matter: _Matter, rounds: int, stride: float
) -> tuple[Floats, Floats, Floats]:
    """Rounds until every water has settled, and how much each changed in the last one."""
    totals = np.maximum(rows[: len(IONS)], NOTHING_MOL_KG)
    alkalinity, dic = rows[len(IONS)], np.maximum(rows[len(IONS) + 1], NOTHING_MOL_KG)
    ln_totals = np.log(totals)
    ln_parts = np.concatenate([ln_totals, _first_guess(alkalinity, dic, ph, matter)])
    strength = _strength_of_totals(totals, alkalinity)
    for turn in range(rounds):
        ln_activity = matter.ln_k + matter.counts @ ln_parts
        molal = np.exp(ln_activity - _ln_coefficient(strength, matter))
        sums = matter.carbon @ molal
        carbonate = (
            _to_alkalinity(sums, alkalinity, dic) if ph is None else _at_ph(sums, alkalinity)
        )
        step = np.concatenate([_to_totals(molal, ln_totals, carbonate, matter), carbonate])
        np.clip(step, -LONGEST_STEP, LONGEST_STEP, out=step)
        ln_parts = ln_parts + stride * step
        renewed = _renewed_strength(molal, stride * step, strength, matter)
        if turn >= LEAST_ROUNDS or turn == rounds - 1:
            change = np.maximum(np.abs(step).max(axis=0), np.abs(renewed / strength - 1))
            if float(change.max()) < CLOSE_ENOUGH:
                break
        strength = renewed
    return molal, ln_activity, change


def _renewed_strength(molal: Floats, step: Floats, before: Floats, matter: _Matter) -> Floats:
    """Ionic strength as it will be after this step, to first order.

    Without looking ahead, strength and activities chase each other and rounds double.
    """
    now, *by_part = matter.squares @ molal
    ahead = 0.5 * (now + sum(grows * by for grows, by in zip(by_part, step, strict=True)))
    return np.asarray(np.clip(ahead, before / 3, before * 3))


def _to_totals(molal: Floats, ln_totals: Floats, carbonate: Floats, matter: _Matter) -> Floats:
    """Steps of the ln activities of the strong ions towards their totals.

    Metals already reckon with this round's steps of carbonate, H and sulphate, which halves the
    number of rounds.
    """
    held = matter.of_ion @ molal
    sulphate = ln_totals[_SO4] - np.log(held[_SO4])
    to_carbonate, to_hydrogen = carbonate
    grown = np.exp(np.array([to_carbonate, to_carbonate + to_hydrogen, sulphate]))
    held[:_METALS] += matter.of_pair @ (molal[matter.pairs] * grown[matter.pair_kinds])
    return np.asarray(ln_totals - np.log(held))


def _ln_coefficient(strength: Floats, matter: _Matter) -> Floats:
    """ln of the activity coefficients."""
    root = np.sqrt(strength)
    return matter.linear * strength - matter.slope * root / (1 + matter.size * root)


def _strength_of_totals(totals: Floats, alkalinity: Floats) -> Floats:
    """Ionic strength before any pairing, never quite 0."""
    squares = np.array([4.0, 4.0, 1.0, 1.0, 1.0, 4.0, 1.0])
    return 0.5 * (squares @ totals + np.abs(alkalinity)) + 1e-7


def _first_guess(alkalinity: Floats, dic: Floats, ph: Floats | None, matter: _Matter) -> Floats:
    """ln activities of carbonate and H to start from: two carbonate balances, no pairs."""
    ln_hco3 = float(_ln_k_alone(matter, 1))
    ln_co2 = float(_ln_k_alone(matter, 2))
    share = np.clip(alkalinity / dic, 1e-4, 1.9999)
    p, q = share * np.exp(ln_co2 - 2 * ln_hco3), share - 1
    y = (np.sqrt(q**2 + 4 * p * (2 - share)) - q) / (2 * p)
    ln_h = np.log(y) - ln_hco3 if ph is None else -LN_10 * ph
    x = np.exp(ln_h + ln_hco3)
    ln_co3 = np.log(dic) - np.log(1 + x + x**2 * np.exp(ln_co2 - 2 * ln_hco3))
    return np.array([ln_co3, ln_h])


def _ln_k_alone(matter: _Matter, hydrogens: int) -> Floats:
    """ln K of carbonate with this many H and nothing else, mean over the temperatures."""
    alone = (matter.counts.sum(axis=1) == 1 + hydrogens) & (matter.counts[:, _H] == hydrogens)
    only = alone & (matter.counts[:, _CO3] == 1)
    return np.asarray(matter.ln_k[only].mean())


def _to_alkalinity(sums: Floats, alkalinity: Floats, dic: Floats) -> Floats:
    """Steps of ln carbonate and ln H towards the carbon and alkalinity balances."""
    none, one, two, basic, acid = sums
    whole = none + one + two
    scale = dic / whole
    surplus = scale * (2 * none + one) + basic - acid - alkalinity
    slope = scale / whole * (none * one + 4 * none * two + one * two) + basic + acid
    turn = np.clip(surplus / slope, -LONGEST_STEP, LONGEST_STEP)
    grown = np.exp(turn)
    return np.array([np.log(dic / (none + one * grown + two * grown**2)), turn])


def _at_ph(sums: Floats, alkalinity: Floats) -> Floats:
    """Steps where pH is given: carbonate follows from the alkalinity, H stays."""
    none, one, _, basic, acid = sums
    needed = alkalinity - basic + acid
    if np.any(needed < 0):
        raise ModelError(
            "the alkalinity is lower than this pH allows",
            "Check pH and alkalinity: one of the two readings is wrong.",
        )
    wanted = np.maximum(needed, NOTHING_MOL_KG)
    return np.array([np.log(wanted / (2 * none + one)), np.zeros_like(wanted)])
