"""The speciation and conductivity of our own against PHREEQC 3.8.6, phreeqc.dat of 2024-05-22.

Tolerances: 0.5 % of EC for any water, 0.3 % of raw EC for what a medium changes, 0.002 pH and SI.
What the monitor needs is 2.5 % of raw EC for the change.
"""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec25_us_cm, ec_at_us_cm, ec_us_cm
from analytics.chemistry.speciation import speciate
from analytics.chemistry.species import log_k
from analytics.chemistry.water import (
    WATER_KG_PER_L,
    Water,
    carbonate_hardness_mmol_l,
    changed,
    hardness_mmol_l,
    per_kg_water,
)
from tests.check_values import phreeqc
from tests.check_values.tap_waters import FOUR, random_waters

COUNT = 200
WATERS, PH = random_waters(COUNT, seed=7)
SHARE = np.random.default_rng(3).uniform(0.3, 0.995, COUNT)
RAW = with_ph(WATERS, PH)
SINGLE = [WATERS.at(i) for i in range(COUNT)]
ENGINE_RAW = phreeqc.raw(SINGLE, list(PH))

_TAKEN_CA = RAW.ca_mmol_l * SHARE
_TAKEN_MG = RAW.mg_mmol_l * SHARE
_LAST = 0.999 * carbonate_hardness_mmol_l(RAW) / hardness_mmol_l(RAW)
_TAKEN_CARBONATE = np.minimum(carbonate_hardness_mmol_l(RAW), RAW.ca_mmol_l) * SHARE
MEDIA: dict[str, tuple[dict[str, np.ndarray], Water]] = {
    "sodium": (
        {
            "CaCl2": -_TAKEN_CA,
            "MgCl2": -_TAKEN_MG,
            "NaCl": 2 * (_TAKEN_CA + _TAKEN_MG),
        },
        changed(
            RAW,
            ca_mmol_l=RAW.ca_mmol_l - _TAKEN_CA,
            mg_mmol_l=RAW.mg_mmol_l - _TAKEN_MG,
            na_mmol_l=RAW.na_mmol_l + 2 * (_TAKEN_CA + _TAKEN_MG),
        ),
    ),
    "hydrogen": (
        {"CaCl2": -_TAKEN_CARBONATE, "HCl": 2 * _TAKEN_CARBONATE},
        changed(
            RAW,
            ca_mmol_l=RAW.ca_mmol_l - _TAKEN_CARBONATE,
            alkalinity_meq_l=RAW.alkalinity_meq_l - 2 * _TAKEN_CARBONATE,
        ),
    ),
    "hydrogen to the last": (
        {
            "CaCl2": -_LAST * RAW.ca_mmol_l,
            "MgCl2": -_LAST * RAW.mg_mmol_l,
            "HCl": 2 * _LAST * hardness_mmol_l(RAW),
        },
        changed(
            RAW,
            ca_mmol_l=RAW.ca_mmol_l * (1 - _LAST),
            mg_mmol_l=RAW.mg_mmol_l * (1 - _LAST),
            alkalinity_meq_l=RAW.alkalinity_meq_l - 2 * _LAST * hardness_mmol_l(RAW),
        ),
    ),
    "mixed": (
        {"CaCl2": -_TAKEN_CARBONATE, "HCl": _TAKEN_CARBONATE, "MgCl2": _TAKEN_CARBONATE / 2},
        changed(
            RAW,
            ca_mmol_l=RAW.ca_mmol_l - _TAKEN_CARBONATE,
            mg_mmol_l=RAW.mg_mmol_l + _TAKEN_CARBONATE / 2,
            alkalinity_meq_l=RAW.alkalinity_meq_l - _TAKEN_CARBONATE,
        ),
    ),
    "magnesium": (
        {"CaCl2": -_TAKEN_CA, "MgCl2": _TAKEN_CA},
        changed(RAW, ca_mmol_l=RAW.ca_mmol_l - _TAKEN_CA, mg_mmol_l=RAW.mg_mmol_l + _TAKEN_CA),
    ),
}


def test_raw_waters_conduct_as_the_engine_says() -> None:
    """EC25 of 200 random tap waters is within 0.5 % of the engine's."""
    error = ec25_us_cm(RAW) / ENGINE_RAW.ec_us_cm - 1

    assert np.abs(error).max() < 0.005


def test_raw_waters_hold_the_inorganic_carbon_the_engine_finds() -> None:
    """Alkalinity and pH give the same DIC within 0.05 %."""
    error = RAW.dic_mmol_l / WATER_KG_PER_L / ENGINE_RAW.dic_mmol_kgw - 1

    assert np.abs(error).max() < 5e-4


def test_raw_waters_saturation_is_the_engine_s() -> None:
    """SI of calcite at 25 C within 0.002."""
    found = speciate(RAW)
    product = found.log10_activity("Ca") + found.log10_activity("CO3")
    index = product - log_k(found.constants.calcite, 25.0)

    assert np.abs(index - ENGINE_RAW.si).max() < 0.002


@pytest.mark.parametrize("medium", MEDIA)
def test_treated_waters_conduct_as_the_engine_says(medium: str) -> None:
    """EC25 behind each medium is within 0.5 %, its change within 0.3 % of raw, pH within 0.002."""
    salts, treated = MEDIA[medium]
    steps = [
        {salt: float(amount[i] / WATER_KG_PER_L) for salt, amount in salts.items()}
        for i in range(COUNT)
    ]
    engine = phreeqc.treated(SINGLE, list(PH), steps)
    found = speciate(treated)
    level = ec_us_cm(found) / engine.ec_us_cm - 1
    change = ec_us_cm(found) - ec25_us_cm(RAW) - (engine.ec_us_cm - ENGINE_RAW.ec_us_cm)

    assert np.abs(level).max() < 0.005
    assert np.abs(change / ENGINE_RAW.ec_us_cm).max() < 0.003
    assert np.abs(found.ph - engine.ph).max() < 0.002


def test_decarbonised_waters_reach_down_to_ph_4_5() -> None:
    """The crowd behind hydrogen media covers the carbonic range it is meant to test."""
    partly = speciate(MEDIA["hydrogen"][1]).ph
    wholly = speciate(MEDIA["hydrogen to the last"][1]).ph

    assert wholly.min() < 4.6
    assert 6.0 < np.percentile(partly, 90) < 6.9


@pytest.mark.parametrize("name", FOUR)
@pytest.mark.parametrize("temp_c", [0.0, 5.0, 15.0, 35.0])
def test_four_waters_at_temperature_conduct_as_the_engine_says(name: str, temp_c: float) -> None:
    """Cooled or warmed in a closed vessel, EC at temperature is within 0.5 %."""
    ph, source = FOUR[name]
    text = phreeqc.solution(1, source, ph) + "END\nUSE SOLUTION 1\nREACTION_TEMPERATURE 1\n"
    engine = phreeqc.run(text + f" {temp_c}\nEND\n")
    ours = ec_at_us_cm(with_ph(source, ph), temp_c)

    assert engine.temp_c[-1] == temp_c
    assert float(ours) == pytest.approx(engine.ec_us_cm[-1], rel=0.005)


@pytest.mark.parametrize(
    "ions",
    [
        {"na": 10.0, "cl": 10.0},
        {"k": 10.0, "no3": 10.0},
        {"ca": 5.0, "cl": 10.0},
        {"mg": 5.0, "so4": 5.0},
        {"na": 10.0, "so4": 5.0},
        {"ca": 5.0, "so4": 5.0},
    ],
    ids=lambda ions: "-".join(ions),
)
def test_single_salts_conduct_as_the_engine_says(ions: dict[str, float]) -> None:
    """10 meq/kg of one salt, pairing or not, is within 0.5 % of the engine."""
    source = per_kg_water(**ions)
    engine = phreeqc.raw([source], [7.0])

    assert float(ec25_us_cm(source)) == pytest.approx(engine.ec_us_cm[0], rel=0.005)
