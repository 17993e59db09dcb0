"""Weak-acid exchanger, part hydrogen, part magnesium form: less carbonate hardness, Ca for Mg."""

from __future__ import annotations

from analytics.chemistry.water import Water, carbonate_hardness_mmol_l, hardness_mmol_l
from analytics.column.exchanger import Exchanger, carboxylic
from analytics.exchange_medium import ExchangeMedium, ShapePriors
from analytics.medium import ALWAYS, Caution, Sharpener
from analytics.setup import CapacityKind


def _also(raw: Water, fresh: Water) -> tuple[Caution, ...]:
    return (*_leaks(raw, fresh), *_sodium_moves(raw))


def _leaks(raw: Water, fresh: Water) -> tuple[Caution, ...]:
    share = float(carbonate_hardness_mmol_l(fresh)) / max(
        float(carbonate_hardness_mmol_l(raw)), 1e-9
    )
    return (Caution(code="leakage", values={"through_share": share}),)


def _sodium_moves(raw: Water) -> tuple[Caution, ...]:
    if float(raw.alkalinity_meq_l) <= 2.0 * float(hardness_mmol_l(raw)):
        return ()
    return (Caution(code="sodium-first", variant="mixed"),)


def _variant(log_k_h: float, magnesium: float) -> Exchanger:
    return carboxylic(log_k_h=log_k_h, start_mg=magnesium, start_ca=0.03)


MEDIUM = ExchangeMedium(
    name="mixed",
    capacity_kind=CapacityKind.CARBONATE,
    sharpened_by=Sharpener.ALKALINITY,
    shape_priors=ShapePriors(
        variants=(
            (_variant(4.85, 0.41), 0.35),
            (_variant(4.85, 0.33), 0.2),
            (_variant(4.85, 0.47), 0.15),
            (_variant(5.0, 0.40), 0.15),
            (carboxylic(log_k_h=4.5, log_k_ca=1.4, start_mg=0.45), 0.15),
        ),
        spread_median=0.14,
    ),
    standing=ALWAYS,
    also=_also,
)
"""Carboxylic sites as in hydrogen form. That 33-47 % of them start with magnesium is set so that
fresh leakage spans 9-30 % of carbonate hardness (common practice, no source)."""
