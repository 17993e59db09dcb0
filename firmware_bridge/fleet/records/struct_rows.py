"""Rows as structs: the columns by name, those that the struct does not have left out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

Kind = TypeVar("Kind", bound=msgspec.Struct)


def as_struct(kind: type[Kind], row: Mapping[Any, Any], **more: Any) -> Kind:
    """A struct of this kind from a row of the records."""
    named = {str(name): value for name, value in row.items()} | more
    return kind(**{name: named[name] for name in kind.__struct_fields__ if name in named})
