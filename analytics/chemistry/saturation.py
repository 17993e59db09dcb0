"""Scale: how far a water is from calcite, cold and in a boiler.

The saturation index is SI = log10({Ca}{CO3} / Ks), from the speciation at temperature; pocket
formulas are kept beside it, because people compare with them. Above 40 C the index depends on the
set of constants: at 95 C PHREEQC 3.8.6 finds 0.24-0.30 more than Plummer & Busenberg 1982. So
every result names its constants.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import debye_a_simple, pk2, pk_water, pks_calcite
from analytics.chemistry.masses import CACO3
from analytics.chemistry.speciation import Speciation, speciate, speciate_at_ph
from analytics.chemistry.species import PHREEQC_386, PLUMMER_BUSENBERG_1982, Constants
from analytics.chemistry.water import WATER_KG_PER_L, Water, changed
from analytics.samples import Floats

_ROUNDS: Final = 60
_CLOSE_ENOUGH: Final = 1e-7
"""Of the index, when calcite's precipitation is followed to equilibrium."""


def si_of(found: Speciation) -> Floats:
    """Saturation index of calcite of a speciation; above 0 scale can form."""
    product = found.log10_activity("Ca") + found.log10_activity("CO3")
    return product + pks_calcite(found.temp_c, found.constants)


def si(source: Water, temp_c: float | Floats = 25.0, constants: Constants = PHREEQC_386) -> Floats:
    """Saturation index of the water brought to temperature in a closed vessel."""
    return si_of(speciate(source, temp_c, constants))


def si_at_fixed_ph(
    source: Water,
    ph: float | Floats,
    temp_c: float | Floats,
    constants: Constants = PHREEQC_386,
) -> Floats:
    """The index if pH stayed as measured cold: what pocket calculators do; too high when hot."""
    return si_of(speciate_at_ph(source, ph, temp_c, constants))


def ryznar(ph_saturated: float | Floats, ph: float | Floats) -> Floats:
    """Ryznar index 2 pHs - pH (J. AWWA 36 (1944) 472): below 6.2 scale, above 6.8 aggressive."""
    return np.asarray(2 * np.asarray(ph_saturated) - ph)


def langelier_phs(
    temp_c: float | Floats,
    tds_mg_l: float | Floats,
    calcium_mg_l_caco3: float | Floats,
    alkalinity_mg_l_caco3: float | Floats,
) -> Floats:
    """Saturation pH by the simple Langelier formula (9.3 + A + B) - (C + D).

    A = (log TDS - 1)/10, B = 34.55 - 13.12 log(t + 273), C = log Ca - 0.4, D = log alkalinity, both
    as mg/L CaCO3. Differs from the rigorous pHs by 0.1-0.25.
    """
    a = (np.log10(tds_mg_l) - 1) / 10
    b = -13.12 * np.log10(np.asarray(temp_c) + 273.0) + 34.55
    c, d = np.log10(calcium_mg_l_caco3) - 0.4, np.log10(alkalinity_mg_l_caco3)
    return np.asarray(9.3 + a + b - c - d)


def sm2330_pf(temp_c: float | Floats, ionic_strength: float | Floats) -> Floats:
    """-log10 of the monovalent activity coefficient: A (sqrt(I)/(1 + sqrt(I)) - 0.3 I)."""
    root = np.sqrt(ionic_strength)
    return np.asarray(
        debye_a_simple(temp_c) * (root / (1 + root) - 0.3 * np.asarray(ionic_strength))
    )


def sm2330_bicarbonate_mol_l(
    alkalinity_eq_l: float | Floats,
    ph: float | Floats,
    temp_c: float | Floats,
    ionic_strength: float | Floats,
) -> Floats:
    """Bicarbonate of an alkalinity at this pH, carbonate, OH and H taken off. SM 2330 B."""
    pf, sour = sm2330_pf(temp_c, ionic_strength), np.asarray(ph, dtype=np.float64)
    hydrogen, hydroxide = 10.0 ** (pf - sour), 10.0 ** (sour - pk_water(temp_c) + pf)
    twice_carbonate = 2 * 10.0 ** (sour - pk2(temp_c) + 3 * pf)
    return np.asarray((alkalinity_eq_l + hydrogen - hydroxide) / (1 + twice_carbonate))


def sm2330_phs(
    temp_c: float | Floats,
    ca_mol_l: float | Floats,
    hco3_mol_l: float | Floats,
    ionic_strength: float | Floats,
) -> Floats:
    """Saturation pH by Standard Methods 2330 B, without ion pairs.

    pHs = pK2 - pKs + p[Ca] + p[HCO3] + 5 pf; constants of Plummer & Busenberg 1982.
    """
    pf = sm2330_pf(temp_c, ionic_strength)
    constants = pk2(temp_c) - pks_calcite(temp_c, PLUMMER_BUSENBERG_1982)
    return np.asarray(constants - np.log10(ca_mol_l) - np.log10(hco3_mol_l) + 5 * pf)


def ccpp_mmol_l(
    source: Water, temp_c: float | Floats = 25.0, constants: Constants = PHREEQC_386
) -> Floats:
    """Calcium carbonate precipitation potential: mmol/L of CaCO3 that calcite takes out of (below
    0: that the water would dissolve from) a closed vessel at temperature.

    The amount is bracketed between all calcium or carbon gone and all carbonic acid used up, and
    narrowed by false position (Illinois) until the index is within 1e-7 of 0.
    """
    shape = np.broadcast_shapes(source.shape, np.shape(temp_c))
    low = np.broadcast_to(-(np.abs(source.dic_mmol_l) + 1.0), shape).copy()
    most = np.minimum(source.ca_mmol_l, source.dic_mmol_l)
    high = np.broadcast_to(most * (1 - 1e-9), shape).copy()
    at_low = si(without_calcite(source, low), temp_c, constants)
    at_high = si(without_calcite(source, high), temp_c, constants)
    side = np.zeros(shape)
    guess = high
    for _ in range(_ROUNDS):
        guess = _false_position(low, high, at_low, at_high)
        found = si(without_calcite(source, guess), temp_c, constants)
        if np.all(np.abs(found) < _CLOSE_ENOUGH) or np.all(high - low < 1e-10):
            break
        above = found > 0
        at_high = np.where(above, np.where(side == 1, at_high / 2, at_high), found)
        at_low = np.where(above, found, np.where(side == -1, at_low / 2, at_low))
        low, high = np.where(above, guess, low), np.where(above, high, guess)
        side = np.where(above, 1.0, -1.0)
    return guess


def _false_position(low: Floats, high: Floats, at_low: Floats, at_high: Floats) -> Floats:
    """Where the line between both ends crosses 0, kept strictly inside."""
    share = at_low / np.maximum(at_low - at_high, 1e-300)
    return low + (high - low) * np.clip(share, 1e-6, 1 - 1e-6)


def ccpp_mg_l_caco3(
    source: Water, temp_c: float | Floats = 25.0, constants: Constants = PHREEQC_386
) -> Floats:
    """CCPP as mg/L of CaCO3."""
    return ccpp_mmol_l(source, temp_c, constants) * CACO3


def without_calcite(source: Water, mmol_l: float | Floats) -> Water:
    """The water less so much CaCO3: calcium and carbon once, alkalinity twice."""
    return changed(
        source,
        ca_mmol_l=source.ca_mmol_l - mmol_l,
        alkalinity_meq_l=source.alkalinity_meq_l - 2 * np.asarray(mmol_l),
        dic_mmol_l=source.dic_mmol_l - mmol_l,
    )


class Boiler(msgspec.Struct, frozen=True, kw_only=True):
    """What a machine does to the water: heat, thicken by steam drawn off, lose carbon dioxide.

    `concentration` is how many times the salts of the feed stand in the boiler. `co2_lost` is the
    share of the carbon dioxide that free CO2 and decomposing bicarbonate could give off, 0-1.
    """

    name: str
    temp_c: float
    concentration: float = 1.0
    co2_lost: float = 0.0


BREW_BOILER: Final = Boiler(name="brew boiler", temp_c=95.0)
"""Always full and closed: common practice, no source."""
STEAM_BOILER: Final = Boiler(name="steam boiler", temp_c=125.0, concentration=3.0, co2_lost=0.5)
"""About 1.3 bar over air pressure; concentration and loss are common practice, no source."""


class Scale(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What a boiler makes of a water; per litre of what stands in the boiler."""

    boiler: Boiler
    constants: str
    water: Water
    ph: Floats
    si: Floats
    ccpp_mmol_l: Floats


def inside(source: Water, boiler: Boiler) -> Water:
    """The water as it stands in the boiler: concentrated, with part of its carbon dioxide gone.

    The carbon that can leave is what is not needed to hold all alkalinity as carbonate.
    """
    factor = boiler.concentration
    spare = np.maximum(source.dic_mmol_l - np.maximum(source.alkalinity_meq_l, 0.0) / 2, 0.0)
    columns = {name: getattr(source, name) * factor for name in Water.__struct_fields__}
    columns["dic_mmol_l"] = (source.dic_mmol_l - boiler.co2_lost * spare) * factor
    return Water(**columns)


def in_boiler(source: Water, boiler: Boiler, constants: Constants = PHREEQC_386) -> Scale:
    """pH, saturation index and precipitation potential at the boiler's temperature."""
    hot = inside(source, boiler)
    found = speciate(hot, boiler.temp_c, constants)
    return Scale(
        boiler=boiler,
        constants=constants.name,
        water=hot,
        ph=found.ph,
        si=si_of(found),
        ccpp_mmol_l=ccpp_mmol_l(hot, boiler.temp_c, constants),
    )


def ccpp_per_kg_water(mmol_l: float | Floats) -> Floats:
    """mmol/L as mmol per kilogram of water, the way speciation programs print it."""
    return np.asarray(np.asarray(mmol_l) / WATER_KG_PER_L)
