"""The form of every act: its fields, and how what was typed becomes the act.

Figures are typed with a unit beside them; the exact factors are those of `analytics.quantities`, so
that the daemon needs no library of units.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from functools import cache
from typing import Any, Literal, TypeAlias

import msgspec

from analytics.errors import ActRefused
from analytics.quantities import (
    ALKALINITY,
    CONDUCTIVITY,
    HARDNESS,
    TEMPERATURE,
    VOLUME,
    Quantity,
)
from analytics.samples import AnyEvent, Point
from analytics.setup import LocalTime
from firmware_bridge.logbook.checks import ACTS

Sort: TypeAlias = Literal["figure", "percent", "choice", "text", "moment", "litres-before"]

LONGEST_NUMBER = 24
DEGREES = ("dH", "fH", "e", "gpg", "mg/L CaCO3", "mmol/L")
LATEST_YEAR = 2100
ONCE = re.compile(r"act-[0-9a-f]{16}")
"""What a form carries so that it is written once, however often it is sent."""


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """One field of a form. `attribute` is the act's; `label` the key of its text.

    A figure has a `quantity` with the `units` offered; the unit chosen stands in the form's field
    `<unit_field>`, so that several figures may share one. `usual` is what stands in it at first.
    """

    attribute: str
    sort: Sort
    label: str = ""
    required: bool = False
    quantity: Quantity | None = None
    units: tuple[str, ...] = ()
    unit_field: str = ""
    words: tuple[str, ...] = ()
    usual: str = ""
    also: tuple[str, ...] = ()
    """Further attributes that the same figure fills."""


class Form(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of act: its event, and its own fields (line, time and note come with each)."""

    kind: str
    event: type[Any]
    fields: tuple[Field, ...] = ()


def _degrees(attribute: str, quantity: Quantity, **more: Any) -> Field:
    return Field(
        attribute=attribute, sort="figure", quantity=quantity, units=DEGREES, unit_field="unit",
        **more,
    )  # fmt: skip


def _conductivity(attribute: str, **more: Any) -> Field:
    return Field(
        attribute=attribute, sort="figure", quantity=CONDUCTIVITY, units=("uS/cm", "mS/cm"),
        unit_field="ec_unit", **more,
    )  # fmt: skip


def _temperature(attribute: str, **more: Any) -> Field:
    return Field(
        attribute=attribute, sort="figure", quantity=TEMPERATURE, units=("degC", "degF"),
        unit_field="temp_unit", **more,
    )  # fmt: skip


def _litres(attribute: str, sort: Sort = "figure", **more: Any) -> Field:
    return Field(
        attribute=attribute, sort=sort, quantity=VOLUME, units=("L", "m3", "gal"),
        unit_field="volume_unit", **more,
    )  # fmt: skip


SPREAD = Field(attribute="relative_sd", sort="percent")
OWN_FIELDS: dict[str, tuple[Field, ...]] = {
    "drop-test": (
        Field(
            attribute="point", sort="choice", words=("blended", "treated", "raw"), usual="blended",
            required=True,
        ),
        _degrees("hardness_mmol_l", HARDNESS),
        _degrees("alkalinity_meq_l", ALKALINITY),
        _degrees("calcium_mmol_l", HARDNESS),
        _degrees(
            "hardness_step_mmol_l", HARDNESS, usual="1",
            also=("alkalinity_step_meq_l", "calcium_step_mmol_l"),
        ),
    ),
    "cartridge-fitted": (
        Field(attribute="cartridge_id", sort="text"),
        _litres("litres_before", "litres-before", usual="0"),
        _litres("litres_before_sd", usual="0"),
    ),
    "bypass-set": (Field(attribute="share", sort="percent", required=True),),
    "k-factor-set": (
        Field(attribute="pulses_per_l", sort="figure", required=True),
        msgspec.structs.replace(SPREAD, usual="3"),
    ),
    "probe-calibrated": (
        Field(attribute="probe", sort="choice", words=("outlet", "inlet"), usual="outlet",
              required=True),
        Field(attribute="gain", sort="figure", required=True),
        _conductivity("dry_us_cm", usual="0"),
        msgspec.structs.replace(SPREAD, usual="0.5"),
    ),
    "cross-zero": (
        _conductivity("outlet_us_cm", required=True),
        _temperature("outlet_temp_c", required=True),
        _conductivity("inlet_us_cm"),
        _temperature("inlet_temp_c"),
    ),
    "utility-report": (
        _degrees("hardness_mmol_l", HARDNESS),
        _degrees("alkalinity_meq_l", ALKALINITY),
        _degrees("calcium_mmol_l", HARDNESS),
        _degrees("magnesium_mmol_l", HARDNESS),
        _conductivity("ec25_us_cm"),
        msgspec.structs.replace(SPREAD, usual="7"),
    ),
    "meter-reading": (_litres("litres", required=True),),
    "meter-replaced": (
        Field(
            attribute="part", sort="choice", words=("outlet-probe", "inlet-probe", "flow-meter"),
            usual="outlet-probe", required=True,
        ),
        Field(attribute="pulses_per_l", sort="figure"),
        msgspec.structs.replace(SPREAD, usual="3"),
        _litres("shows_l", usual="0"),
    ),
    "closure": (Field(attribute="until_ms", sort="moment", required=True),),
    "commissioning": (Field(attribute="until_ms", sort="moment", required=True),),
    "unshelved": (Field(attribute="alarm", sort="text", required=True),),
    "out-of-service": (Field(attribute="alarm", sort="text", required=True),),
    "in-service": (Field(attribute="alarm", sort="text", required=True),),
    "acknowledged": (Field(attribute="alarm", sort="text", required=True),),
    "shelved": (
        Field(attribute="alarm", sort="text", required=True),
        Field(attribute="until_ms", sort="moment", required=True),
    ),
    "note": (),
}  # fmt: skip


@cache
def forms() -> dict[str, Form]:
    """Every act's form by the kind of its event."""
    kinds = {str(event.__struct_config__.tag): event for event in ACTS}
    return {
        kind: Form(kind=kind, event=event, fields=OWN_FIELDS[kind]) for kind, event in kinds.items()
    }


def act_of(form: Form, typed: Mapping[str, str], local: LocalTime, now_ms: int) -> AnyEvent:
    """The act that a filled form amounts to. Raises ActRefused with every field that is wrong.

    Without a time it happened now. What it means is checked where it is written down.
    """
    once = typed.get("once", "")
    values: dict[str, Any] = {
        "line_id": typed.get("line", ""),
        "note": " ".join(typed.get("note", "").split()),
        "corrects": typed.get("corrects", ""),
        "event_id": once if ONCE.fullmatch(once) else "",
        "at_ms": now_ms,
    }
    faults: list[tuple[str, str]] = []
    at = Field(attribute="at_ms", sort="moment")
    for field in (at, *form.fields):
        try:
            value = _read(field, typed, local)
        except ValueError as fault:
            faults.append((field.attribute, str(fault)))
            continue
        if value is not None or field.sort == "litres-before":
            values |= dict.fromkeys((field.attribute, *field.also), value)
        elif field.required:
            faults.append((field.attribute, "missing"))
    if faults:
        raise ActRefused(faults)
    act: AnyEvent = form.event(**_fitting(form, values))
    return act


def _fitting(form: Form, values: dict[str, Any]) -> dict[str, Any]:
    """The step of a drop test is one drop of each titration, whose base units differ by two."""
    if form.kind == "drop-test" and "hardness_step_mmol_l" in values:
        values["alkalinity_step_meq_l"] = 2.0 * values["hardness_step_mmol_l"]
    return values


def _read(field: Field, typed: Mapping[str, str], local: LocalTime) -> Any:
    """The value of a field; None where nothing was typed. Raises ValueError with a code."""
    text = typed.get(field.attribute, "").strip()
    if field.sort == "litres-before" and text in ("", "?"):
        return None
    if not text:
        return None
    if field.sort == "text":
        return text
    if field.sort == "choice":
        if text not in field.words:
            raise ValueError("choice")
        return Point(text) if field.attribute == "point" else text
    if field.sort == "moment":
        return moment(text, local)
    value = number(text)
    if field.sort == "percent":
        return value / 100.0
    if field.quantity is None:
        return value
    unit = typed.get(field.unit_field, field.units[0])
    if unit not in field.units:
        raise ValueError("unit")
    return field.quantity.to_base(value, unit)


def number(text: str) -> float:
    """A figure as people type it: "7", "7.5", "7,5", "1 240". Raises ValueError("number")."""
    plain = "".join(text.split()).replace("\u202f", "").replace(",", ".")
    allowed = plain.lstrip("-").replace(".", "", 1)
    if not (allowed.isdecimal() and allowed.isascii() and len(plain) <= LONGEST_NUMBER):
        raise ValueError("number")
    value = float(plain)
    if not math.isfinite(value):
        raise ValueError("number")
    return value


def moment(text: str, local: LocalTime) -> int:
    """ "2026-04-28T14:32" by the site's clock as UTC. Raises ValueError("moment")."""
    try:
        when = dt.datetime.fromisoformat(text)
    except ValueError:
        raise ValueError("moment") from None
    if not 2000 <= when.year < LATEST_YEAR:
        raise ValueError("moment")
    if when.tzinfo is not None:
        return round(when.timestamp() * 1000)
    as_utc = round(when.replace(tzinfo=dt.UTC).timestamp() * 1000)
    guess = as_utc - local.offset_ms(as_utc)
    return as_utc - local.offset_ms(guess)


def typed_moment(at_ms: int, local: LocalTime) -> str:
    """An instant as the field of a form holds it."""
    there = dt.datetime.fromtimestamp((at_ms + local.offset_ms(at_ms)) / 1000, tz=dt.UTC)
    return there.strftime("%Y-%m-%dT%H:%M")
