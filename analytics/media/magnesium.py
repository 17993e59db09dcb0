"""Exchanger in magnesium form: calcium for magnesium. Total hardness and alkalinity stay."""

from __future__ import annotations

from analytics.chemistry.water import Water
from analytics.column.exchanger import Exchanger
from analytics.exchange_medium import ExchangeMedium, ShapePriors
from analytics.medium import ALWAYS, Caution, Sharpener
from analytics.setup import CapacityKind

STEAM = Caution(code="steam-boiler")
CALCIUM_TEST = Caution(code="calcium-test")


def _also(raw: Water, fresh: Water) -> tuple[Caution, ...]:
    share = float(raw.mg_mmol_l) / max(float(raw.mg_mmol_l + raw.ca_mmol_l), 1e-9)
    if share <= 0.3:
        return STEAM, CALCIUM_TEST
    return STEAM, CALCIUM_TEST, Caution(code="magnesium-rich", values={"found_share": share})


def _variant(calcium: float, log_k_ca: float) -> Exchanger:
    return Exchanger(start_ca=calcium, start_mg=1.0 - calcium, log_k_ca=log_k_ca)


MEDIUM = ExchangeMedium(
    name="magnesium",
    capacity_kind=CapacityKind.CALCIUM,
    sharpened_by=Sharpener.CALCIUM,
    shape_priors=ShapePriors(
        variants=(
            (_variant(0.04, 0.8), 0.5),
            (_variant(0.01, 0.8), 0.15),
            (_variant(0.08, 0.8), 0.15),
            (_variant(0.04, 0.7), 0.1),
            (_variant(0.04, 0.9), 0.1),
        )
    ),
    standing=ALWAYS,
    also=_also,
)
"""Constants: PHREEQC 3.8.6 phreeqc.dat. Calcium is held only 1.6 times as firmly as magnesium, so
the front is long and the capacity falls with the magnesium in raw water. A few per cent of the
sites come loaded with calcium (common practice, no source)."""
