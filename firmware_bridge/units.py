"""Text with a unit to a number in the base unit: the one door to pint.

The registry holds only units of this trade, so that "dH" is a degree of hardness and not a
decihenry, and "e" a degree Clark and not an elementary charge. Hardness has a dimension of its own
(an amount of divalent ions); a mass of something is a unit of that amount ("mg/L as CaCO3").

Molar masses: CIAAW abridged (Ca 40.078, Mg 24.305, CaO 56.077, CaCO3 100.086, HCO3 61.016 g/mol).
Grain 64.79891 mg, US gallon 3.785411784 L, imperial gallon 4.54609 L: exact by definition.
"""

from __future__ import annotations

import difflib
import math
import re
from functools import cache

import pint

from firmware_bridge.config.kinds import Kind

DEFINITIONS = """
micro- = 1e-6 = µ- = μ- = u-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
deci- = 1e-1 = d-
hecto- = 1e2 = h-
kilo- = 1e3 = k-
percent = 0.01 = pct
metre = [length] = m = meter
gram = [mass] = g
second = [time] = s = sec
minute = 60 * second = min
hour = 3600 * second = h = hr
day = 86400 * second = d
week = 7 * day
year = 365.25 * day = yr
month = year / 12
kelvin = [temperature] = K
degree_Celsius = kelvin; offset: 273.15 = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 255.37222222222223 = degF
siemens = [conductance] = S
pulse = [pulse]
mole = [hardness] = mol
equivalent = 0.5 * mole = eq
litre = 1e-3 * metre ** 3 = L = l = liter
gallon = 3.785411784 * litre = gal
imperial_gallon = 4.54609 * litre
cubic_foot = 28.316846592 * litre = ft3
gram_CaCO3 = mole / 100.086 = g_CaCO3
gram_CaO = mole / 56.077 = g_CaO
gram_Ca = mole / 40.078 = g_Ca
gram_Mg = mole / 24.305 = g_Mg
gram_HCO3 = 0.5 * mole / 61.016 = g_HCO3
grain = 0.06479891 * gram_CaCO3 = gr
degree_dH = 0.01 * gram_CaO / litre = dH
degree_fH = 0.01 * gram_CaCO3 / litre = fH
clark = grain / imperial_gallon
gpg = grain / gallon
byte = [data] = B
megabyte = 1e6 * byte = MB
gigabyte = 1e9 * byte = GB
terabyte = 1e12 * byte = TB
mebibyte = 1048576 * byte = MiB
gibibyte = 1073741824 * byte = GiB
""".strip().splitlines()

WORDS = {
    "°dH": "dH",
    "°d": "dH",
    "°fH": "fH",
    "°f": "fH",
    "°e": "clark",
    "e": "clark",
    "Clark": "clark",
    "°Clark": "clark",
    "%": "percent",
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "m3": "metre^3",
    "pulses": "pulse",
    "imp": "pulse",
}
"""Spellings of a unit that a person may use, and what the registry calls it."""

PHRASES = (
    (re.compile(r"\bppm\s+(?:as\s+)?(CaCO3)$"), r"mg/L as \1"),
    (re.compile(r"\b(?:US|us|U\.S\.)\s+gal(?:lons?)?\b"), "gallon"),
    (re.compile(r"\b(?:UK|imp|imperial)\s+gal(?:lons?)?\b"), "imperial_gallon"),
    (re.compile(r"\s+per\s+"), "/"),
    (re.compile(r"[·×⋅]"), "*"),
    (re.compile("⁻¹"), "^-1"),
    (re.compile("²"), "^2"),
    (re.compile("³"), "^3"),
)
AMOUNT = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*?)\s*", re.DOTALL)
AS = re.compile(r"(.*?)\s+(?:as\s+)?(CaCO3|CaO|HCO3|Ca|Mg)")
MASS = re.compile(r"(?<![\w°])([kmuµμ]?g)(?![\w])")
FACTOR = re.compile(r"\s*(1|[A-Za-z°%µμ][A-Za-z0-9_°µμ]*)\s*(?:(?:\^|\*\*)\s*(-?[1-3]))?\s*")
LONGEST = 100
MASSES = ("ppm", "mg/L", "mg/l")


class UnitError(ValueError):
    """Raised when a text is not a possible quantity of its kind; says what is wrong and the
    mend."""

    def __init__(self, problem: str, mend: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.mend = mend


@cache
def registry() -> pint.UnitRegistry[float]:
    """The units of the trade, and no others."""
    units: pint.UnitRegistry[float] = pint.UnitRegistry(None, on_redefinition="raise")
    units.load_definitions(DEFINITIONS)
    return units


def parse(text: str, kind: Kind) -> float:
    """The number in the kind's base unit that a text like "3600 dH*L" states.

    The kind's own bounds are not applied here. Raises UnitError.
    """
    number, unit_text = split(text, kind)
    unit = unit_of(unit_text, kind)
    value = _in_base(number, unit, unit_text, kind)
    if not math.isfinite(value):
        raise UnitError("this is no finite number")
    return value


def convert(number: float, from_unit: str, to_unit: str) -> float:
    """A number in another unit of the same kind: convert(1, "dH", "mg/L as CaCO3").

    Raises UnitError where a unit is not known or the two do not measure the same.
    """
    units = registry()
    start, goal = units.parse_units(_spell(from_unit, {})), units.parse_units(_spell(to_unit, {}))
    if not start.is_compatible_with(goal):
        raise UnitError(f"{from_unit} and {to_unit} do not measure the same")
    return float(units.Quantity(number, start).to(goal).magnitude)


def split(text: str, kind: Kind) -> tuple[float, str]:
    """The number and the unit of a text. Raises UnitError where one is missing."""
    whole = AMOUNT.fullmatch(text) if len(text) <= LONGEST else None
    if whole is None:
        mend = f'Write a number and a unit, such as "{kind.written[0]}".'
        raise UnitError("this is not a number with a unit", mend)
    number, unit = whole.groups()
    if re.match(r",\s*\d", unit):
        raise UnitError("a decimal comma", "Write a point for the decimals.")
    if not unit:
        mend = f'Write "{number} {_unit_part(kind.written[0])}" if that is what you mean.'
        raise UnitError("the unit is missing", mend)
    return float(number), unit


def unit_of(unit_text: str, kind: Kind) -> pint.Unit:
    """The registry's unit for a person's spelling. Raises UnitError with the nearest one."""
    try:
        return registry().parse_units(_spell(unit_text, kind.renames))
    except (pint.errors.PintError, UnitError) as exc:
        raise UnitError(f'"{unit_text}" is no unit known here', _nearest(unit_text, kind)) from exc


def _in_base(number: float, unit: pint.Unit, unit_text: str, kind: Kind) -> float:
    units = registry()
    base = units.parse_units(_spell(kind.base, {}))
    if unit.is_compatible_with(base):
        return float(units.Quantity(number, unit).to(base).magnitude)
    if kind.reciprocal and unit.is_compatible_with(base**-1) and number > 0.0:
        return float((1.0 / units.Quantity(number, unit)).to(base).magnitude)
    raise UnitError(f'"{unit_text}" does not measure {kind.name}', _wrong_unit(unit_text, kind))


def _spell(unit_text: str, renames: dict[str, str]) -> str:
    """A person's spelling as the registry reads it: factors joined by * and /."""
    for pattern, instead in PHRASES:
        unit_text = pattern.sub(instead, unit_text)
    of_what = AS.fullmatch(unit_text)
    if of_what is not None:
        unit_text = MASS.sub(lambda m: f"{m[1]}_{of_what[2]}", of_what[1])
        renames = {}
    if unit_text == "one":
        return ""
    parts = re.split(r"(?<!\*)([*/])(?!\*)", unit_text)
    return "".join(_factor(p, renames) if i % 2 == 0 else p for i, p in enumerate(parts))


def _factor(text: str, renames: dict[str, str]) -> str:
    found = FACTOR.fullmatch(text)
    if found is None:
        raise UnitError(f'"{text.strip()}" cannot be read as a unit')
    name, power = found.groups()
    name = renames.get(name, WORDS.get(name, name))
    return f"({name})**({power})".replace("^", "**") if power else name.replace("^", "**")


def _unit_part(written: str) -> str:
    return written.split(" ", 1)[1]


def _nearest(unit_text: str, kind: Kind, cutoff: float = 0.4) -> str:
    """The nearest spelling of this kind as a sentence, or nothing."""
    if unit_text.strip() in MASSES and cutoff < 0.9:
        return _wrong_unit(unit_text, kind)
    known = [_unit_part(w) for w in kind.written]
    lowered = {k.lower(): k for k in known}
    close = difflib.get_close_matches(unit_text.lower().strip(), list(lowered), n=1, cutoff=cutoff)
    return f'Did you mean "{lowered[close[0]]}"?' if close else ""


def _wrong_unit(unit_text: str, kind: Kind) -> str:
    known = [_unit_part(w) for w in kind.written]
    if unit_text.strip() in MASSES and "mg/L as CaCO3" in known:
        return 'Say milligrams of what: "mg/L as CaCO3".'
    return _nearest(unit_text, kind, cutoff=0.9) or f'Write it as in "{kind.written[0]}".'
