"""Kinds of quantity that a site file states, each as text with a unit.

A kind knows its base unit (the one the program works in), what a person may write, and between
which values it is possible. No conversion happens here: that is `firmware_bridge.units`, which
alone loads pint.
"""

from __future__ import annotations

import msgspec

DH_PER_MMOL_L = 5.6077
"""1 mmol/L of hardness in degrees dH (10 mg/L CaO, CaO 56.077 g/mol, CIAAW abridged masses)."""


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of quantity.

    `base` is the unit the program keeps it in; `low` and `high` bound it, in that unit.
    `written` are examples of what a person may write, the first is the one proposed first.
    `shown` and `shown_per_base` turn a bound back into the person's unit for a message.
    `renames` are spellings that mean something else for this kind than for the others.
    `reciprocal`: the inverse unit (L/pulse for pulse/L) is taken as well.
    """

    name: str
    base: str
    low: float
    high: float
    written: tuple[str, ...]
    shown: str
    shown_per_base: float = 1.0
    renames: dict[str, str] = {}
    reciprocal: bool = False

    def span(self, low: float, high: float) -> str:
        """The bounds in the person's unit: "0 to 95 %"."""
        lowest, highest = low * self.shown_per_base, high * self.shown_per_base
        return f"{lowest:.6g} to {highest:.6g} {self.shown}"


def _of_element(name: str, symbol: str) -> Kind:
    """A dissolved element, where a bare mg/L can only mean mg/L of that element."""
    return Kind(
        name=name,
        base="mmol/L",
        low=0.0,
        high=50.0,
        written=("47 mg/L", "1.2 mmol/L", "6.6 dH", "117 mg/L as CaCO3"),
        shown="mmol/L",
        renames={f"{prefix}g": f"{prefix}g_{symbol}" for prefix in ("", "m", "u", "µ")},
    )


HARDNESS = Kind(
    name="a hardness",
    base="mmol/L",
    low=0.0,
    high=50.0,
    written=(
        "12 dH",
        "21 fH",
        "15 e",
        "12.5 gpg",
        "214 mg/L as CaCO3",
        "214 ppm CaCO3",
        "2.1 mmol/L",
        "4.3 meq/L",
    ),
    shown="dH",
    shown_per_base=DH_PER_MMOL_L,
)
ALKALINITY = Kind(
    name="an alkalinity",
    base="meq/L",
    low=0.0,
    high=100.0,
    written=("9 dH", "3.2 mmol/L", "3.2 meq/L", "160 mg/L as CaCO3", "195 mg/L as HCO3", "16 fH"),
    shown="dH",
    shown_per_base=DH_PER_MMOL_L / 2,
    # acid capacity: one mmol of acid to the litre is one milliequivalent
    renames={f"{prefix}mol": f"{prefix}eq" for prefix in ("", "m", "u", "µ")},
)
CALCIUM = _of_element("a calcium content", "Ca")
MAGNESIUM = _of_element("a magnesium content", "Mg")
CAPACITY = Kind(
    name="a capacity",
    base="mmol",
    low=0.5,
    high=1e7,
    written=("3600 dH*L", "1.28 eq", "0.64 mol", "6400 fH*L", "1000 grain", "1000 gpg*gal"),
    shown="dH*L",
    shown_per_base=DH_PER_MMOL_L,
)
CONDUCTIVITY = Kind(
    name="a conductivity",
    base="uS/cm",
    low=0.0,
    high=200_000.0,
    written=("557 uS/cm", "557 µS/cm", "0.557 mS/cm", "55.7 mS/m"),
    shown="uS/cm",
)
CELL_CONSTANT = Kind(
    name="a cell constant",
    base="1/cm",
    low=0.005,
    high=50.0,
    written=("1 1/cm", "0.98 cm^-1"),
    shown="1/cm",
)
TEMPERATURE = Kind(
    name="a temperature",
    base="degC",
    low=-10.0,
    high=110.0,
    written=("15 °C", "59 °F"),
    shown="°C",
)
SHARE = Kind(
    name="a share",
    base="one",
    low=0.0,
    high=1.0,
    written=("30 %", "30 percent"),
    shown="%",
    shown_per_base=100.0,
)
VOLUME = Kind(
    name="a volume",
    base="L",
    low=0.0,
    high=1e9,
    written=("1200 L", "1.2 m3", "317 gal", "264 imperial gal"),
    shown="L",
)
FLOW = Kind(
    name="a flow",
    base="L/min",
    low=0.01,
    high=1000.0,
    written=("2 L/min", "120 L/h", "0.5 gal/min"),
    shown="L/min",
)
SMALL_FLOW = Kind(
    name="a small flow",
    base="L/h",
    low=0.01,
    high=1000.0,
    written=("2 L/h", "0.5 gal/h"),
    shown="L/h",
)
LITRES_A_DAY = Kind(
    name="a daily use",
    base="L/day",
    low=0.0,
    high=1e6,
    written=("60 L/day", "420 L/week"),
    shown="L/day",
)
K_FACTOR = Kind(
    name="a K-factor",
    base="pulse/L",
    low=0.001,
    high=1e6,
    written=("1380 pulse/L", "0.725 mL/pulse", "1 L/pulse"),
    shown="pulse/L",
    reciprocal=True,
)
SPAN_DAYS = Kind(
    name="a length of time",
    base="day",
    low=0.0,
    high=36_525.0,
    written=("12 month", "26 week", "180 day", "1 year"),
    shown="day",
)
SPAN_H = Kind(
    name="a length of time",
    base="h",
    low=0.0,
    high=8766.0,
    written=("4 h", "30 min", "3 day"),
    shown="h",
)
SPAN_S = Kind(
    name="a length of time",
    base="s",
    low=0.0,
    high=31_557_600.0,
    written=("15 min", "10 s", "1 h"),
    shown="s",
)
DISK = Kind(
    name="a size on the disk",
    base="byte",
    low=1.6e7,
    high=1e13,
    written=("2 GB", "500 MB", "1.5 GiB"),
    shown="MB",
    shown_per_base=1e-6,
)

ALL_KINDS = (
    HARDNESS,
    ALKALINITY,
    CALCIUM,
    MAGNESIUM,
    CAPACITY,
    CONDUCTIVITY,
    CELL_CONSTANT,
    TEMPERATURE,
    SHARE,
    VOLUME,
    FLOW,
    SMALL_FLOW,
    LITRES_A_DAY,
    K_FACTOR,
    SPAN_DAYS,
    SPAN_H,
    SPAN_S,
    DISK,
)
