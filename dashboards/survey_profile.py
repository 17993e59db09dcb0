"""The window as a file: read, checked, and written for editing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from analytics.errors import ConfigError, LastLitreError
from analytics.quantities import ALKALINITY, HARDNESS
from analytics.survey.window import WINDOWS, Band, Window, require_sensible
from dashboards.survey_input import table_of, value_of

ENDS: Final = ("low", "aim", "high")


def _mg_l(text: object) -> float:
    parts = str(text).split()
    if len(parts) != 2 or parts[1].lower() not in ("mg/l", "ppm"):
        raise LastLitreError(f"{text!r} is not a number with a unit.", 'Write it as in "200 mg/L".')
    try:
        return float(parts[0])
    except ValueError:
        raise LastLitreError(
            f"{text!r} is not a number with a unit.", 'As in "200 mg/L".'
        ) from None


def _plain(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise LastLitreError(f"{value!r} is not a number.", "Write the number alone, as in 7.0.")
    return float(value)


_Reader = Callable[[object], float]
BANDS: Final[dict[str, tuple[str, _Reader]]] = {
    "hardness": ("hardness_mmol_l", lambda v: value_of("hardness", str(v))),
    "alkalinity": ("alkalinity_meq_l", lambda v: value_of("alkalinity", str(v))),
    "calcium": ("calcium_mmol_l", lambda v: value_of("calcium", str(v))),
    "ph": ("ph", _plain),
    "sodium": ("sodium_mg_l", _mg_l),
    "tds": ("tds_mg_l", _mg_l),
}
LIMITS: Final[dict[str, tuple[str, str, _Reader]]] = {
    "chloride": ("chloride_{}_mg_l", "chloride_source", _mg_l),
    "scale": ("si_{}", "si_source", _plain),
}
TOP: Final = ("name", "source", "tds_factor")


def window_named(name: str) -> Window:
    """A built-in profile, or the one in the file of this name. Raises ConfigError."""
    if name in WINDOWS:
        return WINDOWS[name]
    path = Path(name)
    if not path.suffix and not path.exists():
        known = ", ".join(WINDOWS)
        raise ConfigError(
            [f"There is no profile {name!r}."], f"Give a TOML file or one of {known}."
        )
    return window_from(table_of(path, "profile"), name)


def window_from(table: dict[str, Any], where: str) -> Window:
    """A profile from a table; every fault is listed. Raises ConfigError or ModelError."""
    faults: list[str] = []
    known = (*TOP, *BANDS, *LIMITS)
    faults += [f"{where}: {n!r} is not part of a profile." for n in sorted(set(table) - set(known))]
    made: dict[str, Any] = {}
    for name, (field, read) in BANDS.items():
        if name in table:
            made[field] = _band(table[name], f"{where}: [{name}]", read, faults)
    for name, (field, source, read) in LIMITS.items():
        if name in table:
            made |= _limits(table[name], f"{where}: [{name}]", field, source, read, faults)
    for name in ("hardness", "alkalinity"):
        if name not in table:
            faults.append(f"{where}: the range of [{name}] is missing.")
    if "tds_factor" in table:
        _into(made, "tds_factor", table["tds_factor"], _plain, f"{where}: tds_factor", faults)
    if faults:
        raise ConfigError(
            faults, "`lastlitre survey --print-profile coffee-2018` shows a whole one."
        )
    window = Window(
        name=str(table.get("name", Path(where).stem)),
        source=str(table.get("source", "the user's own profile")),
        **made,
    )
    require_sensible(window)
    return window


def _into(
    made: dict[str, Any], key: str, value: object, read: _Reader, where: str, faults: list[str]
) -> None:
    try:
        made[key] = read(value)
    except LastLitreError as fault:
        faults.append(f"{where}: {fault} {fault.hint}".rstrip())


def _band(table: object, where: str, read: _Reader, faults: list[str]) -> Band:
    made: dict[str, Any] = {}
    if not isinstance(table, dict):
        faults.append(f"{where} must be a table with low, aim, high and source.")
        return Band()
    for key, value in table.items():
        if key == "source":
            made[key] = str(value)
        elif key in ENDS:
            _into(made, key, value, read, f"{where} {key}", faults)
        else:
            faults.append(f"{where} has no {key!r}, only low, aim, high and source.")
    return Band(**made)


def _limits(
    table: object, where: str, field: str, source: str, read: _Reader, faults: list[str]
) -> dict[str, Any]:
    made: dict[str, Any] = {}
    if not isinstance(table, dict):
        faults.append(f"{where} must be a table with watch, stop and source.")
        return made
    for key, value in table.items():
        if key == "source":
            made[source] = str(value)
        elif key in ("watch", "stop"):
            _into(made, field.format(key), value, read, f"{where} {key}", faults)
        else:
            faults.append(f"{where} has no {key!r}, only watch, stop and source.")
    return made


# --- written --------------------------------------------------------------------------------------


def profile_text(window: Window) -> str:
    """The profile as a file to edit; reading it gives the profile again."""
    lines = [
        "# A brew-water profile. Leave out what is not limited.",
        f'name = "{window.name}"',
        f'source = "{window.source}"',
        f"tds_factor = {window.tds_factor:g}  # TDS in mg/L = EC25 in uS/cm times this",
    ]
    writers: dict[str, Callable[[float], str]] = {
        "hardness": lambda v: f'"{HARDNESS.from_base(v, "mg/L CaCO3"):.6g} mg/L as CaCO3"',
        "alkalinity": lambda v: f'"{ALKALINITY.from_base(v, "mg/L CaCO3"):.6g} mg/L as CaCO3"',
        "calcium": lambda v: f'"{HARDNESS.from_base(v, "mg/L CaCO3"):.6g} mg/L as CaCO3"',
        "ph": lambda v: f"{v:g}",
        "sodium": lambda v: f'"{v:g} mg/L"',
        "tds": lambda v: f'"{v:g} mg/L"',
    }
    for name, (field, _) in BANDS.items():
        lines += _band_lines(name, getattr(window, field), writers[name])
    lines += [
        "",
        "[chloride]  # with stainless steel or brass boilers",
        f'watch = "{window.chloride_watch_mg_l:g} mg/L"',
        f'stop = "{window.chloride_stop_mg_l:g} mg/L"',
        f'source = "{window.chloride_source}"',
        "",
        "[scale]  # saturation index of calcite in the brew boiler",
        f"watch = {window.si_watch:g}",
        f"stop = {window.si_stop:g}",
        f'source = "{window.si_source}"',
    ]
    return "\n".join(lines) + "\n"


def _band_lines(name: str, band: Band, write: Callable[[float], str]) -> list[str]:
    ends = [(end, getattr(band, end)) for end in ENDS]
    stated = [f"{end} = {write(value)}" for end, value in ends if value is not None]
    if not stated:
        return []
    source = [f'source = "{band.source}"'] if band.source else []
    return ["", f"[{name}]", *stated, *source]
