"""What a person types about raw water, as readings: drops, values and ranges with their units."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

from analytics.chemistry.masses import CL, NA, NO3, SO4
from analytics.chemistry.temperature import f25_where_defined
from analytics.errors import ConfigError, LastLitreError
from analytics.survey.given import Given, How, Reading, drop_reading, range_reading, value_reading
from firmware_bridge.config import kinds
from firmware_bridge.config.fault import Fault
from firmware_bridge.config.toml_file import parse as parse_toml
from firmware_bridge.config.toml_file import read_bytes
from firmware_bridge.units import UnitError
from firmware_bridge.units import parse as parse_unit

FIELDS: Final = {
    "hardness": "hardness_mmol_l",
    "alkalinity": "alkalinity_meq_l",
    "ec": "ec25_us_cm",
    "calcium": "calcium_mmol_l",
    "magnesium": "magnesium_mmol_l",
    "sodium": "sodium_mmol_l",
    "chloride": "chloride_mmol_l",
    "sulphate": "sulphate_mmol_l",
    "nitrate": "nitrate_mmol_l",
    "ph": "ph",
}
"""Names of tests as a person gives them, and the reading each fills."""
KINDS: Final = {
    "hardness": kinds.HARDNESS,
    "alkalinity": kinds.ALKALINITY,
    "ec": kinds.CONDUCTIVITY,
    "calcium": kinds.CALCIUM,
    "magnesium": kinds.MAGNESIUM,
}
SALTS: Final = {"sodium": (NA, 1), "chloride": (CL, 1), "sulphate": (SO4, 2), "nitrate": (NO3, 1)}
"""Molar mass and charge of ions that are given by mass."""
DROPS: Final = re.compile(r"(-?[\d.]+)\s*drops?(?:\s+(?:of|at|x)\s+(.+))?", re.IGNORECASE)
RANGE: Final = re.compile(r"\s*([\d.]+)\s*(?:-|–|to|\.\.)\s*([\d.]+)\s+(.+)")
SALT: Final = re.compile(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*(mg/L|mg/l|ppm|mmol/L|mmol/l|meq/L)")
PLAIN: Final = re.compile(r"\s*(?:pH)?\s*([+-]?\d+(?:\.\d+)?)\s*", re.IGNORECASE)


def reading(name: str, text: str, drop: str, how: How = How.VALUE) -> Reading:
    """What one test says. `drop` is the size of a drop where the text does not state it.

    Raises LastLitreError that names the test and the mend.
    """
    field = FIELDS[name]
    drops = DROPS.fullmatch(text.strip())
    if drops is not None:
        return _drops(name, float_of(name, drops[1]), drops[2] or drop, text)
    between = RANGE.fullmatch(text)
    if between is not None:
        ends = sorted(value_of(name, f"{end} {between[3]}") for end in between.groups()[:2])
        return range_reading(ends[0], ends[1], how, text)
    return value_reading(field, value_of(name, text), how, text)


def _drops(name: str, count: float, size: str, text: str) -> Reading:
    if name not in ("hardness", "alkalinity", "calcium"):
        raise LastLitreError(
            f"{name} {text!r}: this is not counted in drops here.",
            "Give it as a value with its unit.",
        )
    if count != int(count) or count < 1:
        raise LastLitreError(
            f"{name} {text!r}: drops are counted whole, from 1 up.",
            "Count the drop at which the colour turned.",
        )
    one = value_of(name, size)
    if one <= 0:
        raise LastLitreError(
            f"{name}: a drop of {size!r} is nothing.", 'Say what one drop stands for: "1 dH".'
        )
    said = text if " of " in text else f"{text} of {size}"
    return drop_reading(count, one, said)


def value_of(name: str, text: str) -> float:
    """A value in the base unit of its test. Raises LastLitreError."""
    if name == "ph":
        return _matched(name, PLAIN, text, 'Write the number alone: "7.4".')
    if name in SALTS:
        return _salt(name, text)
    try:
        return parse_unit(text, KINDS[name])
    except UnitError as fault:
        raise LastLitreError(f"{name} {text!r}: {fault.problem}.", fault.mend) from fault


def float_of(name: str, text: str) -> float:
    """A plain number. Raises LastLitreError."""
    try:
        return float(text)
    except ValueError:
        raise LastLitreError(f"{name}: {text!r} is not a number.", "Use digits.") from None


def _salt(name: str, text: str) -> float:
    mass, charge = SALTS[name]
    found = SALT.fullmatch(text.rstrip())
    if found is None:
        raise LastLitreError(
            f"{name} {text!r}: this is not a number with a unit.", 'Write it as in "18 mg/L".'
        )
    value, unit = float_of(name, found[1]), found[2].lower()
    if unit == "meq/l":
        return value / charge
    return value if unit == "mmol/l" else value / mass


def _matched(name: str, pattern: re.Pattern[str], text: str, mend: str) -> float:
    found = pattern.fullmatch(text)
    if found is None:
        raise LastLitreError(f"{name} {text!r}: this is not a number.", mend)
    return float(found[1])


def referred(ec: Reading, temp_text: str) -> Reading:
    """Conductivity read without compensation, referred to 25 C by the natural-water curve.

    Raises LastLitreError outside 0 to 35 C, where the curve (ISO 7888) is not defined.
    """
    try:
        temp_c = parse_unit(temp_text, kinds.TEMPERATURE)
    except UnitError as fault:
        raise LastLitreError(f"ec-temp {temp_text!r}: {fault.problem}.", fault.mend) from fault
    if not 0.0 <= temp_c <= 35.0:
        raise LastLitreError(
            f"ec-temp {temp_text!r}: conductivity can be referred to 25 C from 0 to 35 C only.",
            "Read it in fresh tap water.",
        )
    factor = float(f25_where_defined(temp_c))
    return Reading(
        value=ec.value * factor,
        step=ec.step * factor,
        sd=ec.sd * factor,
        how=ec.how,
        said=f"{ec.said} at {temp_text}",
    )


def given_from(texts: dict[str, str], drop: str, how: How = How.VALUE) -> Given:
    """All tests of a water; every fault is listed. Raises ConfigError."""
    readings: dict[str, Reading] = {}
    faults, hints = [], []
    for name, text in texts.items():
        try:
            readings[FIELDS[name]] = reading(name, text, drop, how)
        except LastLitreError as fault:
            faults.append(str(fault))
            hints.append(fault.hint)
    if faults:
        lines = [f"{f} {h}".rstrip() for f, h in zip(faults, hints, strict=True)]
        raise ConfigError(lines)
    return Given(**readings)


def table_of(path: Path, what: str) -> dict[str, Any]:
    """A TOML file as a plain table. Raises ConfigError."""
    data = read_bytes(path, what)
    table = data if isinstance(data, Fault) else parse_toml(data, str(path))
    if isinstance(table, Fault):
        raise ConfigError([str(table)])
    return table


def report_from(path: Path) -> Given:
    """A utility's report: the names of tests with values or ranges as texts. Raises ConfigError."""
    table = table_of(path, "water report")
    unknown = sorted(set(table) - set(FIELDS))
    faults = [f"{path}: {name!r} is not a figure of a report." for name in unknown]
    wrong = [n for n, v in table.items() if n in FIELDS and not isinstance(v, str | int | float)]
    faults += [f'{path}: {name} must be a text such as "14 dH" or "12-15 dH".' for name in wrong]
    if faults:
        raise ConfigError(faults, f"A report may state {', '.join(FIELDS)}.")
    return given_from({name: str(value) for name, value in table.items()}, "1 dH", How.REPORT)
