"""Sizing, bypass and sodium: sums that handbooks and operators' texts print."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.chemistry.treatment import bypass_for
from analytics.quantities import CAPACITY, DH_MMOL_L, GPG_MMOL_L, US_GALLON_L, VOLUME
from tests.check_values.checks import Check, Kind


def _gallons(grains: float, gpg: float) -> float:
    """US gallons a capacity lasts at a hardness."""
    litres = CAPACITY.to_base(grains, "gr") / (gpg * GPG_MMOL_L)
    return VOLUME.from_base(litres, "gal")


def _days(capacity_g: float, litres_a_day: float, raw_mg_l: float, target_mg_l: float) -> float:
    """Days a bed lasts where a bypass brings raw water to a target, hardness as CaCO3."""
    treated_share = 1 - float(bypass_for(target_mg_l, raw_mg_l, 0.0))
    return capacity_g * 1000 / (raw_mg_l * treated_share * litres_a_day)


def rows() -> Iterator[Check]:
    """Every sizing check."""
    yield Check(
        group="capacity over hardness",
        what="24 000 grains at 20 gpg, US gal",
        expected=1200.0,
        ours=lambda: _gallons(24_000, 20),
        tolerance=1e-6,
        source="trade journal article on capacity",
        kind=Kind.PUBLISHED,
    )
    yield Check(
        group="capacity over hardness",
        what="50 000 grains at 45 gpg, US gal",
        expected=1111.1,
        ours=lambda: _gallons(50_000, 45),
        tolerance=1.0,
        source="water operators' examination text",
        kind=Kind.PUBLISHED,
    )
    for what, raw, target, share, capacity_g, litres, days, kind in (
        ("245 to 100 mg/L", 245, 100, 40.82, 0.2 * 25_000, 1200, 28.74, Kind.PUBLISHED),
        ("280 to 85 mg/L", 280, 85, 30.36, 0.07 * 46_000, 2000, 8.26, Kind.MEMORY),
    ):
        yield Check(
            group="bypass and time to the end",
            what=f"bypass, {what}, %",
            expected=share,
            ours=lambda r=raw, t=target: 100 * float(bypass_for(t, r, 0.0)),
            tolerance=0.001,
            relative=True,
            source="exercise in a water treatment textbook",
            kind=kind,
        )
        yield Check(
            group="bypass and time to the end",
            what=f"days, {what}",
            expected=days,
            ours=lambda c=capacity_g, v=litres, r=raw, t=target: _days(c, v, r, t),
            tolerance=0.001,
            relative=True,
            source="exercise in a water treatment textbook",
            kind=kind,
        )
    yield Check(
        group="sodium limit",
        what="hardness whose full softening adds 200 mg/L Na, dH",
        expected=24.4,
        ours=lambda: 200 / (2 * 22.98977 * DH_MMOL_L),
        tolerance=0.001,
        relative=True,
        source="98/83/EC limit of 200 mg/L",
        kind=Kind.COMPUTED,
    )
    yield Check(
        group="capacity over hardness",
        what="1 US gal, L",
        expected=3.785411784,
        ours=lambda: US_GALLON_L,
        tolerance=1e-12,
        source="definition, 231 cubic inches",
        kind=Kind.PUBLISHED,
    )
