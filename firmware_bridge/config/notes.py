"""An installer's notes (JSON) to a site file.

In these notes a drop test's point "treated" is the blended water that the machine gets, and its
"carbonate hardness" is what the test titrates: alkalinity.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from firmware_bridge.config import toml_file
from firmware_bridge.config.box_tables import MeterTable
from firmware_bridge.config.fault import Fault, Refused
from firmware_bridge.config.loading import error_of
from firmware_bridge.config.meter_options.node_serial import NodeSerial
from firmware_bridge.config.readers import Place, asks, ratio, words
from firmware_bridge.config.reading import MISSING, fault, fields_of, read_table
from firmware_bridge.config.sample import block
from firmware_bridge.config.writing import measured, table

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
FIRST, LAST = dt.datetime(2000, 1, 1, tzinfo=dt.UTC), dt.datetime(2100, 1, 1, tzinfo=dt.UTC)


def iso_instant(value: object, place: Place) -> dt.datetime:
    """ "2024-08-16T08:30:00Z" as an instant."""
    allowed = 'a date and time with its offset, such as "2024-08-16T08:30:00Z"'
    if not isinstance(value, str):
        raise Refused("not a date and time", allowed)
    try:
        when = dt.datetime.fromisoformat(value)
    except ValueError as exc:
        raise Refused("not a date and time", allowed) from exc
    if when.tzinfo is None or not FIRST <= when <= LAST:
        raise Refused("not an instant that can be", allowed)
    return when.astimezone(dt.UTC)


Instant = Annotated[dt.datetime, asks("When.", iso_instant, example='"2024-08-16T08:30:00Z"')]
Degrees = Annotated[float | None, asks("Degrees dH.", ratio(0.0, 280.0), example="12")]
Conductivity = Annotated[float, asks("As read, in uS/cm.", ratio(0.0, 200_000.0), example="557.8")]
Temperature = Annotated[float, asks("In degrees Celsius.", ratio(-10.0, 110.0), example="15")]


class Notes(msgspec.Struct, frozen=True, kw_only=True):
    """What the installer wrote down about the cartridge."""

    case: Annotated[str, asks("Name of the place.", words)] = ""
    medium: Annotated[
        Literal["sodium", "hydrogen", "magnesium", "mixed"], asks("What is in the cartridge.")
    ]
    basis: Annotated[
        Literal["total_hardness", "carbonate_hardness", "calcium_hardness"], asks("What counts.")
    ] = msgspec.field(name="capacity_basis")
    capacity_dh_l: Annotated[float, asks("Capacity.", ratio(1.0, 5e7), example="3600")] = (
        msgspec.field(name="rated_capacity_dH_litres")
    )
    bypass: Annotated[float, asks("Share, 0-1.", ratio(0.0, 0.95), example="0.3")] = msgspec.field(
        name="bypass_setpoint"
    )
    pulses_per_l: Annotated[float, asks("K-factor.", ratio(0.001, 1e6), example="1000")] = (
        msgspec.field(name="k_factor_pulses_per_litre")
    )
    installed: Instant = msgspec.field(name="install_date")
    offset_h: Annotated[float, asks("East of UTC.", ratio(-12.0, 14.0), example="1")] = (
        msgspec.field(name="utc_offset_hours")
    )
    layout: Annotated[Literal["outlet", "inlet+outlet"], asks("Probes.", example='"outlet"')]


class ReportNotes(msgspec.Struct, frozen=True, kw_only=True):
    """What the water company states."""

    hardness_dh: Degrees = msgspec.field(name="total_hardness_dH", default=None)
    alkalinity_mmol_l: Annotated[float | None, asks("Acid capacity.", ratio(0.0, 100.0))] = (
        msgspec.field(name="acid_capacity_mmol_L", default=None)
    )
    calcium_mg_l: Annotated[float | None, asks("Calcium.", ratio(0.0, 2000.0))] = msgspec.field(
        name="calcium_mg_L", default=None
    )
    magnesium_mg_l: Annotated[float | None, asks("Magnesium.", ratio(0.0, 1200.0))] = msgspec.field(
        name="magnesium_mg_L", default=None
    )


class DropNotes(msgspec.Struct, frozen=True, kw_only=True):
    """One drop test."""

    time: Instant
    point: Annotated[Literal["raw", "treated"], asks("Where.", example='"raw"')]
    hardness_dh: Degrees = msgspec.field(name="total_hardness_dH", default=None)
    alkalinity_dh: Degrees = msgspec.field(name="carbonate_hardness_dH", default=None)


class RawReadingNotes(msgspec.Struct, frozen=True, kw_only=True):
    """All probes in raw water."""

    time: Instant
    outlet_us_cm: Conductivity = msgspec.field(name="outlet_conductivity_uS_cm")
    outlet_temp_c: Temperature = msgspec.field(name="outlet_temperature_C")
    inlet_us_cm: Conductivity | None = msgspec.field(name="inlet_conductivity_uS_cm", default=None)
    inlet_temp_c: Temperature | None = msgspec.field(name="inlet_temperature_C", default=None)


def from_notes(path: Path | str) -> str:
    """The site file that an installer's notes amount to.

    Raises ConfigError with every fault of the notes.
    """
    path = Path(path)
    raw = _read(path)
    if isinstance(raw, Fault):
        raise error_of([raw], path)
    faults: list[Fault] = []
    place = Place(file=str(path))
    notes = read_table(Notes, raw, place, faults, also=_further(raw, Notes))
    report = _one(ReportNotes, "utility_report", raw, place, faults)
    if report is not None and not _states_something(report):
        mend = "Add a value of the report, or leave utility_report out."
        faults.append(
            fault(place.at("utility_report"), "", MISSING, "no value is stated", mend=mend)
        )
    reading = _one(RawReadingNotes, "raw_water_reading", raw, place, faults)
    tests = _tests(raw, place, faults)
    if faults or notes is None:
        raise error_of(faults, path)
    name = notes.case or path.absolute().parent.name or "site"
    parts = [_site(notes, name), _line(notes), *block("[[meter]]", MeterTable, NodeSerial, off=True,
             word=("driver", '"node-serial"')), _fitted(notes)]  # fmt: skip
    parts += [_report(notes, report)] if report is not None else []
    parts += [_cross_zero(reading)] if reading is not None else []
    return "\n".join([*parts, *(_drop_test(test) for test in tests)])


def _read(path: Path) -> dict[str, Any] | Fault:
    data = toml_file.read_bytes(path, "file of notes")
    if isinstance(data, Fault):
        return data
    try:
        raw = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as exc:
        said = "".join(c if c.isprintable() else "?" for c in str(exc)[:200])
        return Fault(file=str(path), problem=f"not JSON: {said}", mend="Name a file of notes.")
    if not isinstance(raw, dict):
        return Fault(file=str(path), problem="no notes in it", mend="Write { ... } with keys.")
    return raw


def _further(raw: dict[str, Any], struct: type[msgspec.Struct]) -> tuple[str, ...]:
    """Keys that are none of ours: notes may hold more than a site file needs."""
    return tuple(set(raw) - {f.key for f in fields_of(struct)})


def _one(
    struct: type[Any], key: str, raw: dict[str, Any], place: Place, faults: list[Fault]
) -> Any:
    inner = raw.get(key)
    return None if inner is None else _keyed(struct, inner, place.at(key), faults)


def _keyed(struct: type[Any], inner: Any, place: Place, faults: list[Fault]) -> Any:
    """What stands between one pair of braces."""
    if not isinstance(inner, dict):
        mend = "Write { ... } with its keys."
        faults.append(fault(place, "", inner, "these are no notes with keys", mend=mend))
        return None
    return read_table(struct, inner, place, faults, also=_further(inner, struct))


def _tests(raw: dict[str, Any], place: Place, faults: list[Fault]) -> list[DropNotes]:
    many = raw.get("drop_tests") or []
    if not isinstance(many, list):
        faults.append(fault(place, "drop_tests", many, "not a list", mend="Write [ {...}, ... ]."))
        return []
    found = []
    for number, inner in enumerate(many, start=1):
        here = place.at("drop_tests", str(number))
        test = _keyed(DropNotes, inner, here, faults)
        if test is not None and test.hardness_dh is None and test.alkalinity_dh is None:
            mend = "Add total_hardness_dH or carbonate_hardness_dH."
            faults.append(fault(here, "", MISSING, "no value is stated", mend=mend))
        found += [test] if test is not None else []
    return found


def _states_something(report: ReportNotes) -> bool:
    values = (getattr(report, name) for name in report.__struct_fields__)
    return any(value is not None for value in values)


def _site(notes: Notes, name: str) -> str:
    ident = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:63] or "site"
    zone = _zone(notes.offset_h)
    return table("[site]", {"id": ident, "name": name, "time_zone": zone})


def _zone(offset_h: float) -> str:
    """A zone with a fixed offset. In the names Etc/GMT-1 the sign is the other way round."""
    if offset_h == int(offset_h):
        return f"Etc/GMT{-int(offset_h):+d}" if offset_h else "Etc/GMT"
    minutes = round(abs(offset_h) * 60)
    return f"UTC{'-' if offset_h < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _line(notes: Notes) -> str:
    return table(
        "[[line]]",
        {
            "id": "bar",
            "medium": notes.medium,
            "capacity": measured(notes.capacity_dh_l, "dH*L"),
            "capacity_kind": notes.basis.removesuffix("_hardness"),
            "bypass": measured(round(notes.bypass * 100.0, 10), "%"),
            "probes": ["inlet", "outlet"] if notes.layout == "inlet+outlet" else ["outlet"],
            "k_factor": measured(notes.pulses_per_l, "pulse/L"),
        },
    )


def _fitted(notes: Notes) -> str:
    entries = {"kind": "cartridge-fitted", "at": notes.installed, "litres_before": "new"}
    return table("[[dated]]", entries)


def _report(notes: Notes, report: ReportNotes) -> str:
    """The report has no date of its own: it is known from the installation on."""
    return table(
        "[[dated]]",
        {
            "kind": "utility-report",
            "at": notes.installed,
            "hardness": measured(report.hardness_dh, "dH"),
            "alkalinity": measured(report.alkalinity_mmol_l, "mmol/L"),
            "calcium": measured(report.calcium_mg_l, "mg/L"),
            "magnesium": measured(report.magnesium_mg_l, "mg/L"),
        },
    )


def _cross_zero(reading: RawReadingNotes) -> str:
    return table(
        "[[dated]]",
        {
            "kind": "cross-zero",
            "at": reading.time,
            "outlet": measured(reading.outlet_us_cm, "uS/cm"),
            "outlet_temperature": measured(reading.outlet_temp_c, "°C"),
            "inlet": measured(reading.inlet_us_cm, "uS/cm"),
            "inlet_temperature": measured(reading.inlet_temp_c, "°C"),
        },
    )


def _drop_test(test: DropNotes) -> str:
    return table(
        "[[dated]]",
        {
            "kind": "drop-test",
            "at": test.time,
            "point": "blended" if test.point == "treated" else "raw",
            "hardness": measured(test.hardness_dh, "dH"),
            "alkalinity": measured(test.alkalinity_dh, "dH"),
        },
    )
