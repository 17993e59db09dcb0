"""Plausible whole waters behind a few tests: what was not tested is drawn, and hangs together.

Alkalinity goes with hardness, sodium with chloride, sulphate with permanent hardness, pH with
calcite; the charges of every water close, and its conductivity is the one measured, if one was.
The spreads of what is unknown are common practice without source: tap waters from soft moorland to
gypsum, limestone and soda water.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.saturation import sm2330_phs
from analytics.chemistry.water import Water, balanced, stacked, unstacked, water
from analytics.samples import Floats
from analytics.survey.doubt import courses
from analytics.survey.given import Given, Reading
from analytics.survey.least import MODEL_READS_HIGH, MODEL_SD

LEAST_HARDNESS: Final = 0.005
LEAST_ALKALINITY: Final = 0.02
"""Amounts below these are taken as these: an index of calcite needs some of both."""
US_CM_PER_MEQ: Final = 95.0
"""EC25 over equivalents of cations in tap water, about."""
CARBONATE_SHARES: Final = (4.5, 2.0, 1.15)
"""Alkalinity over hardness in equivalents: beta(4.5, 2) times 1.15, 5-95 % 0.42-1.06."""
MAGNESIUM_SHARES: Final = (2.5, 9.0)
"""Magnesium of hardness: beta(2.5, 9), 5-95 % 0.06-0.43."""
ROUNDS: Final = 5
LEAST_SLOPE: Final = 30.0
"""uS/cm a mmol/L that sodium salts add at least; a smaller slope is rounding."""


class Filled(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Waters that would all have given these tests. `ec_scale` turns EC25 from their ions into what
    a meter shows."""

    water: Water
    ec_scale: Floats


def filled(given: Given, count: int, rng: np.random.Generator) -> Filled:
    """So many plausible waters, from each course that contradictory tests leave."""
    parts = []
    left = count
    routes = courses(given)
    for place, (weight, course) in enumerate(routes):
        last = place == len(routes) - 1
        some = left if last else min(left, max(1, round(weight * count)))
        if some:
            parts.append(_from_course(course, some, rng))
        left -= some
    rows = np.concatenate([stacked(part.water) for part in parts], axis=1)
    return Filled(water=unstacked(rows), ec_scale=np.concatenate([part.ec_scale for part in parts]))


def _from_course(given: Given, count: int, rng: np.random.Generator) -> Filled:
    ec = _drawn(given.ec25_us_cm, count, rng)
    ca, mg, alkalinity = _hardness_and_alkalinity(given, ec, count, rng)
    salts = _salts(given, ca + mg, alkalinity, count, rng)
    if ec is None:
        found = salts.with_sodium(salts.likely_sodium)
        scale = 1.0 / (MODEL_READS_HIGH + MODEL_SD * rng.standard_normal(count))
    else:
        wanted = ec * (MODEL_READS_HIGH + MODEL_SD * rng.standard_normal(count))
        found = salts.conducting(wanted) if given.sodium_mmol_l is None else salts.likely()
    whole = balanced(msgspec.structs.replace(found, ca_mmol_l=ca, mg_mmol_l=mg))
    whole = with_ph(whole, _ph(given.ph, whole, count, rng))
    if ec is not None:
        scale = np.clip(ec / ec25_us_cm(whole), 0.3, 3.0)
    return Filled(water=whole, ec_scale=np.asarray(scale))


def _drawn(reading: Reading | None, count: int, rng: np.random.Generator) -> Floats | None:
    return None if reading is None else reading.drawn(rng, count)


def _hardness_and_alkalinity(
    given: Given, ec: Floats | None, count: int, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Calcium, magnesium and alkalinity."""
    a, b, most = CARBONATE_SHARES
    ratio = most * rng.beta(a, b, count)
    share = rng.beta(*MAGNESIUM_SHARES, count)
    hardness = _drawn(given.hardness_mmol_l, count, rng)
    alkalinity = _drawn(given.alkalinity_meq_l, count, rng)
    calcium = _drawn(given.calcium_mmol_l, count, rng)
    magnesium = _drawn(given.magnesium_mmol_l, count, rng)
    if hardness is None:
        hardness = _hardness(alkalinity, calcium, magnesium, ec, ratio, share)
    hardness = np.maximum(hardness, LEAST_HARDNESS)
    if alkalinity is None:
        alkalinity = 2 * hardness * ratio
        if ec is not None:
            alkalinity = np.minimum(alkalinity, ec / US_CM_PER_MEQ)
    if calcium is not None:
        ca = np.minimum(calcium, hardness)
    elif magnesium is not None:
        ca = hardness - np.minimum(magnesium, hardness)
    else:
        ca = hardness * (1 - share)
    return ca, hardness - ca, np.maximum(alkalinity, LEAST_ALKALINITY)


def _hardness(
    alkalinity: Floats | None,
    calcium: Floats | None,
    magnesium: Floats | None,
    ec: Floats | None,
    ratio: Floats,
    share: Floats,
) -> Floats:
    """Hardness that was not tested, from the best of what was."""
    if calcium is not None:
        return calcium + magnesium if magnesium is not None else calcium / (1 - share)
    if alkalinity is not None:
        likely = alkalinity / (2 * ratio)
        return likely if ec is None else np.minimum(likely, ec / US_CM_PER_MEQ / 2)
    if ec is None:
        raise ValueError("neither hardness, alkalinity, calcium nor conductivity is known")
    # the ratio's own spread serves as that of hardness among cations: both fall in salty water
    return ec / US_CM_PER_MEQ / 2 * np.clip(ratio / CARBONATE_SHARES[2] + 0.08, 0.2, 0.98)


class _Salts(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """All but sodium and what balances it. `chloride_share` is chloride's part of the anions that
    come with more sodium or permanent hardness; the rest is sulphate."""

    hardness: Floats
    alkalinity: Floats
    potassium: Floats
    nitrate: Floats
    chloride: Floats
    sulphate: Floats
    chloride_share: Floats
    likely_sodium: Floats

    def least_sodium(self) -> Floats:
        """Sodium below which anions would lead."""
        anions = self.alkalinity + self.nitrate + self.chloride + 2 * self.sulphate
        return np.maximum(anions - 2 * self.hardness - self.potassium, 0.0)

    def with_sodium(self, sodium: Floats) -> Water:
        """The water with so much sodium, never less than the anions need; hardness as calcium."""
        na = np.maximum(sodium, self.least_sodium())
        anions = self.alkalinity + self.nitrate + self.chloride + 2 * self.sulphate
        spare = np.maximum(2 * self.hardness + self.potassium + na - anions, 0.0)
        return water(
            ca=self.hardness,
            na=na,
            k=self.potassium,
            cl=self.chloride + self.chloride_share * spare,
            so4=self.sulphate + (1 - self.chloride_share) * spare / 2,
            no3=self.nitrate,
            alkalinity=self.alkalinity,
            dic=self.alkalinity * 1.05 + 0.01,
        )

    def likely(self) -> Water:
        """The water with its likely sodium."""
        return self.with_sodium(self.likely_sodium)

    def conducting(self, ec25: Floats) -> Water:
        """The water whose sodium salts bring it to this EC25 from ions; by the secant, as EC is
        nearly straight in sodium. The least sodium where even that conducts more."""
        least = self.least_sodium()
        before = least
        off_before = ec25_us_cm(self.with_sodium(before)) - ec25
        sodium = least + np.maximum(-off_before, 0.0) / US_CM_PER_MEQ
        for _ in range(ROUNDS):
            off = ec25_us_cm(self.with_sodium(sodium)) - ec25
            moved = sodium - before
            slope = np.where(np.abs(moved) > 1e-9, (off - off_before) / _not_nil(moved), np.inf)
            before, off_before = sodium, off
            slope = np.where(slope > LEAST_SLOPE, slope, US_CM_PER_MEQ)
            sodium = np.maximum(sodium - off / slope, least)
        return self.with_sodium(sodium)


def _salts(
    given: Given,
    hardness: Floats,
    alkalinity: Floats,
    count: int,
    rng: np.random.Generator,
) -> _Salts:
    """Potassium, nitrate, chloride, sulphate and likely sodium."""
    hard = 2 * hardness
    potassium = rng.uniform(0.02, 0.12, count) * np.clip(hard / 2, 0.2, 1.0)
    nitrate = _drawn(given.nitrate_mmol_l, count, rng)
    spread = rng.uniform(0.0, 0.4, count)
    usual = np.clip(0.2 + 0.13 * hard, 0.2, 0.9) * np.exp(0.55 * rng.standard_normal(count))
    follows = np.exp(0.35 * rng.standard_normal(count))
    share = rng.beta(2.0, 4.0, count)
    chloride = _drawn(given.chloride_mmol_l, count, rng)
    sulphate = _drawn(given.sulphate_mmol_l, count, rng)
    sodium = _drawn(given.sodium_mmol_l, count, rng)
    if nitrate is None:
        nitrate = spread * np.clip(hard / 6, 0.05, 1.0)
    likely = sodium if sodium is not None else 0.9 * follows * _or(chloride, usual)
    if chloride is not None:
        share = np.zeros(count)
    elif sulphate is not None:
        share = np.ones(count)
    room = _room(given, hard + potassium, alkalinity, nitrate, count)
    return _Salts(
        hardness=hardness,
        alkalinity=alkalinity,
        potassium=potassium,
        nitrate=nitrate,
        chloride=np.minimum(usual, room) if chloride is None else chloride,
        sulphate=np.minimum(0.03 * hard, 0.1) if sulphate is None else sulphate,
        chloride_share=share,
        likely_sodium=likely,
    )


def _not_nil(values: Floats) -> Floats:
    return np.where(np.abs(values) > 1e-9, values, 1.0)


def _or(found: Floats | None, instead: Floats) -> Floats:
    return instead if found is None else found


def _room(given: Given, cations: Floats, alkalinity: Floats, nitrate: Floats, count: int) -> Floats:
    """Chloride that conductivity leaves room for at most, where it was not tested itself."""
    if given.ec25_us_cm is None:
        return np.full(count, np.inf)
    whole = np.maximum(given.ec25_us_cm.value / US_CM_PER_MEQ, cations)
    return np.maximum(0.7 * (whole - alkalinity - nitrate), 0.02)


def _ph(reading: Reading | None, source: Water, count: int, rng: np.random.Generator) -> Floats:
    """pH as measured, or near calcite saturation as waterworks keep it; soft water about 7.9."""
    strength = (
        4 * (source.ca_mmol_l + source.mg_mmol_l + source.so4_mmol_l)
        + source.na_mmol_l
        + source.cl_mmol_l
        + source.alkalinity_meq_l
    ) / 2000
    calcium = np.maximum(source.ca_mmol_l, LEAST_HARDNESS)
    saturated = sm2330_phs(25.0, calcium / 1000, source.alkalinity_meq_l / 1000, strength)
    near = saturated + 0.1 + 0.25 * rng.standard_normal(count)
    usual = np.clip(np.minimum(near, 7.9 + 0.4 * rng.standard_normal(count)), 6.6, 8.8)
    ph = usual if reading is None else reading.drawn(rng, count)
    most = np.minimum(10.6, 10.4 + np.log10(source.alkalinity_meq_l))
    return np.clip(ph, 4.6, most)
