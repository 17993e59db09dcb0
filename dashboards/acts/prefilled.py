"""An entry as it stands in its own form: what a correction begins with."""

from __future__ import annotations

from typing import Any

from analytics.samples import AnyEvent
from analytics.setup import LocalTime
from dashboards.acts.forms import Field, Form, typed_moment

DIGITS = 6


def typed_of(form: Form, event: AnyEvent, hardness_unit: str, local: LocalTime) -> dict[str, str]:
    """The fields of the form, in the reader's unit of hardness; `act_of` makes the same act of
    them."""
    typed = {"line": event.line_id, "at_ms": typed_moment(event.at_ms, local)}
    for field in form.fields:
        value = getattr(event, field.attribute)
        if field.unit_field:
            typed[field.unit_field] = (
                hardness_unit if field.unit_field == "unit" else field.units[0]
            )
        typed[field.attribute] = _typed(field, value, typed, local)
    return typed


def _typed(field: Field, value: Any, typed: dict[str, str], local: LocalTime) -> str:
    if value is None:
        return "?" if field.sort == "litres-before" else ""
    if field.sort == "moment":
        return typed_moment(value, local)
    if field.sort in ("choice", "text"):
        return str(value)
    if field.sort == "percent":
        return _bare(100.0 * value)
    if field.quantity is None:
        return _bare(value)
    return _bare(field.quantity.from_base(value, typed[field.unit_field]))


def _bare(value: float) -> str:
    """A number without exponent and without zeros at its end."""
    text = f"{value:.{DIGITS}f}"
    return text.rstrip("0").rstrip(".")
