"""The water a machine should get: a profile of ranges, each with its published source.

A profile is a plain struct that a person can write anew; the built-in ones are examples with their
sources. A limit of None is not set.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.chemistry.masses import CACO3
from analytics.errors import ModelError
from analytics.quantities import DH_MMOL_L
from analytics.samples import Floats

Bools: TypeAlias = NDArray[np.bool_]

ALKALINITY_PER_MG: Final = 2.0 / CACO3
"""meq/L of alkalinity in 1 mg/L as CaCO3."""


class Band(msgspec.Struct, frozen=True, kw_only=True):
    """A range with an aim in it; without an aim its middle is aimed at."""

    low: float | None = None
    high: float | None = None
    aim: float | None = None
    source: str = ""

    @property
    def floor(self) -> float:
        """Lower end, 0 where none is set."""
        return 0.0 if self.low is None else self.low

    @property
    def ceiling(self) -> float:
        """Upper end, infinite where none is set."""
        return np.inf if self.high is None else self.high

    @property
    def aimed(self) -> float:
        """The value to aim at."""
        if self.aim is not None:
            return self.aim
        if self.high is None:
            return self.floor
        return (self.floor + self.high) / 2

    def holds(self, values: Floats) -> Bools:
        """Whether values lie inside, element by element."""
        return np.asarray((values >= self.floor - 1e-9) & (values <= self.ceiling + 1e-9))


class Window(msgspec.Struct, frozen=True, kw_only=True):
    """A profile: what the water should be, and the limits that scale, salt and metal set.

    `si_watch` and `si_stop` are saturation indices of calcite in the brew boiler: above the first
    scale is likely, above the second the water does not do. Chloride counts with stainless steel
    and brass: above the first limit it is watched, above the second exchange does not do.
    """

    name: str
    source: str
    hardness_mmol_l: Band
    alkalinity_meq_l: Band
    ph: Band = Band()
    calcium_mmol_l: Band = Band()
    sodium_mg_l: Band = Band(high=200.0, source="Directive (EU) 2020/2184")
    tds_mg_l: Band = Band()
    tds_factor: float = 0.65
    """TDS = EC25 in uS/cm times this: a convention, not a measurement."""
    chloride_watch_mg_l: float = 30.0
    chloride_stop_mg_l: float = 50.0
    chloride_source: str = "common practice, no source"
    si_watch: float = 0.5
    si_stop: float = 1.0
    si_source: str = "common practice, no source"

    def holds(self, hardness_mmol_l: Floats, alkalinity_meq_l: Floats) -> Bools:
        """Whether points of the plane lie in the window."""
        inside = self.hardness_mmol_l.holds(hardness_mmol_l)
        return np.asarray(inside & self.alkalinity_meq_l.holds(alkalinity_meq_l))


def _mg(low: float | None, high: float | None, factor: float, **more: float | str) -> Band:
    """A band from mg/L as CaCO3."""
    ends = {"low": low, "high": high}
    made = {name: None if value is None else value * factor for name, value in ends.items()}
    aim = more.pop("aim", None)
    if isinstance(aim, float):
        made["aim"] = aim * factor
    return Band(**made, source=str(more.get("source", "")))


_2018 = "SCA water quality handbook 2018, core zone, as secondary pages print it"
_2009 = "SCAA standard Water for brewing specialty coffee, 2009"
_EU = "Directive (EU) 2020/2184"
_PRACTICE = "common practice, no source"

COFFEE_2018: Final = Window(
    name="coffee-2018",
    source=_2018,
    hardness_mmol_l=_mg(50.0, 175.0, 1 / CACO3, source=_2018),
    alkalinity_meq_l=_mg(
        40.0, 70.0, ALKALINITY_PER_MG, source=f"{_2018}; others print 40-75 mg/L as CaCO3"
    ),
    ph=Band(low=6.0, high=8.0, source=f"{_2018}; others print 6.5-7.5"),
)
COFFEE_2009: Final = Window(
    name="coffee-2009",
    source=_2009,
    hardness_mmol_l=Band(
        low=17.0 / CACO3,
        high=150.0 / CACO3,
        aim=85.0 / CACO3,
        source=f"only calcium is limited by the {_2009}; the upper end is {_PRACTICE}",
    ),
    calcium_mmol_l=_mg(17.0, 85.0, 1 / CACO3, aim=68.0, source=_2009),
    alkalinity_meq_l=_mg(
        30.0,
        50.0,
        ALKALINITY_PER_MG,
        aim=40.0,
        source=f"{_2009} says at or near 40 mg/L as CaCO3; a quarter more or less is {_PRACTICE}",
    ),
    ph=Band(low=6.5, high=7.5, aim=7.0, source=_2009),
    tds_mg_l=Band(low=75.0, high=250.0, aim=150.0, source=_2009),
    tds_factor=0.5,
)
STEAM_ONLY: Final = Window(
    name="steam-only",
    source=f"{_PRACTICE}; pH and sodium {_EU}",
    hardness_mmol_l=Band(low=0.0, high=4 * DH_MMOL_L, aim=1 * DH_MMOL_L, source=_PRACTICE),
    alkalinity_meq_l=Band(low=0.8, high=4.5, aim=1.5, source=_PRACTICE),
    ph=Band(low=6.5, high=9.5, source=_EU),
)
WINDOWS: Final = {w.name: w for w in (COFFEE_2018, COFFEE_2009, STEAM_ONLY)}
DEFAULT: Final = COFFEE_2018


def require_sensible(window: Window) -> None:
    """Raises ModelError where a range of the profile is upside down, negative or without an end."""
    for name in window.__struct_fields__:
        band = getattr(window, name)
        if isinstance(band, Band):
            _require_band(name, band)
    plane = (window.hardness_mmol_l, window.alkalinity_meq_l)
    if any(band.high is None or band.high <= 0 for band in plane):
        raise ModelError(
            f"Profile {window.name}: hardness and alkalinity need an upper end",
            "Give both a high above 0.",
        )
    pairs = (
        ("chloride", window.chloride_watch_mg_l, window.chloride_stop_mg_l),
        ("saturation index", window.si_watch, window.si_stop),
    )
    for name, watch, stop in pairs:
        if not watch <= stop:
            raise ModelError(
                f"Profile {window.name}: {name} is watched from {watch:g} but stops at {stop:g}",
                "Let the watch lie below the stop.",
            )
    if not 0.4 <= window.tds_factor <= 1.0:
        raise ModelError(
            f"Profile {window.name}: a TDS factor of {window.tds_factor:g} is not usual",
            "Give one between 0.5 and 0.7.",
        )


def _require_band(name: str, band: Band) -> None:
    ends = [v for v in (band.low, band.aim, band.high) if v is not None]
    if any(not np.isfinite(v) or v < 0 for v in ends) or ends != sorted(ends):
        said = " to ".join(f"{v:g}" for v in ends)
        raise ModelError(
            f"Profile: the range of {name} ({said}) does not rise from 0 up",
            "Give low, aim and high in this order.",
        )
