"""Strong-acid exchanger in sodium form: softening. Calcium and magnesium go, sodium comes."""

from __future__ import annotations

from analytics.chemistry.water import Water
from analytics.column.exchanger import Exchanger
from analytics.exchange_medium import ExchangeMedium, ShapePriors
from analytics.medium import ALWAYS, Caution, Sharpener, sodium_diet
from analytics.setup import CapacityKind


def _also(raw: Water, fresh: Water) -> tuple[Caution, ...]:
    na = float(fresh.na_mmol_l)
    return sodium_diet(na, na - float(raw.na_mmol_l))


MEDIUM = ExchangeMedium(
    name="sodium",
    capacity_kind=CapacityKind.TOTAL,
    sharpened_by=Sharpener.TOTAL,
    shape_priors=ShapePriors(variants=((Exchanger(), 1.0),)),
    standing=ALWAYS,
    also=_also,
)
"""Constants: PHREEQC 3.8.6 phreeqc.dat (log K: Na 0, K 0.7, Mg 0.6, Ca 0.8). At tap-water strength
the front is so steep that other constants in the literature move nothing a meter could see."""
