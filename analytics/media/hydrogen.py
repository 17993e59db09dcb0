"""Weak-acid exchanger in hydrogen form: takes the cations that go with alkalinity.

Hydrogen comes off and turns bicarbonate into CO2, so that carbonate hardness and pH fall while
permanent hardness stays. With more alkalinity than hardness, sodium is taken as well, and given
back first.
"""

from __future__ import annotations

from analytics.chemistry.water import Water, hardness_mmol_l, permanent_hardness_mmol_l
from analytics.column.exchanger import carboxylic
from analytics.exchange_medium import ExchangeMedium, ShapePriors
from analytics.medium import ALWAYS, Caution, Sharpener
from analytics.setup import CapacityKind

DH_PER_MMOL = 5.6077


def sodium_first(raw: Water) -> tuple[Caution, ...]:
    """What an outlet probe will show where alkalinity exceeds hardness."""
    if float(raw.alkalinity_meq_l) <= 2.0 * float(hardness_mmol_l(raw)):
        return ()
    return (Caution(code="sodium-first", variant="hydrogen"),)


def _also(raw: Water, fresh: Water) -> tuple[Caution, ...]:
    stays = float(permanent_hardness_mmol_l(raw))
    if stays * DH_PER_MMOL < 4.0:
        return sodium_first(raw)
    return (*sodium_first(raw), Caution(code="permanent", values={"stays_mmol_l": stays}))


MEDIUM = ExchangeMedium(
    name="hydrogen",
    capacity_kind=CapacityKind.CARBONATE,
    sharpened_by=Sharpener.ALKALINITY,
    shape_priors=ShapePriors(
        variants=(
            (carboxylic(log_k_h=4.65, start_ca=0.03), 0.4),
            (carboxylic(log_k_h=4.85, start_ca=0.03), 0.2),
            (carboxylic(log_k_h=4.5, start_ca=0.02), 0.2),
            (carboxylic(log_k_h=4.4, log_k_ca=1.4, start_ca=0.02), 0.2),
        ),
        spread_median=0.09,
        spread_ln_sd=0.30,
    ),
    standing=ALWAYS,
    also=_also,
)
"""Hydrogen binds with log K 4.4-4.85 beside Ca 2.0 (1.4) and Mg 1.55: a carboxylic site of pKa 4-5
(Helfferich, Ion Exchange, 1962, ch. 4), which gives a fresh pH of 4.3-5.5 over tap waters. Two or
three per cent of the sites come loaded with calcium: what stands in the bed and what it was flushed
with (common practice, no source). Streams spread by 0.055-0.15 (5-95 %): at a tenth left
conductivity has come up by about an eighth of what it comes up by at the end (PHREEQC columns)."""
