"""TOML out of values: only what a site file needs."""

from __future__ import annotations

import datetime as dt
import json


def text(value: object) -> str:
    """One value as TOML."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(text(part) for part in value) + "]"
    return repr(value)


def table(heading: str, entries: dict[str, object]) -> str:
    """A table with its entries; those that are None are left out."""
    lines = [f"{key} = {text(value)}" for key, value in entries.items() if value is not None]
    return "\n".join([heading, *lines]) + "\n"


def measured(value: float | None, unit: str) -> str | None:
    """A number with its unit, to the last digit."""
    return None if value is None else f"{repr(float(value)).removesuffix('.0')} {unit}"
