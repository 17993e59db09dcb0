"""Rows of the records as structs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

T = TypeVar("T", bound=msgspec.Struct)


def as_struct(row: Mapping[Any, Any], form: type[T]) -> T:
    """A row's columns that the struct has fields for; its types are the table's."""
    return form(**{name: row[name] for name in form.__struct_fields__})
