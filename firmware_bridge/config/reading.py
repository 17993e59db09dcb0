"""Reads one table of the file into its struct, and collects every fault on the way."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any, Literal, TypeVar, get_args, get_origin

import msgspec

from firmware_bridge.config.fault import SECRET_KEY, Fault, Refused, nearest, shown
from firmware_bridge.config.readers import Place, Reader

T = TypeVar("T", bound=msgspec.Struct)
MISSING = object()


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """One key of a table, out of its struct's definition."""

    attribute: str
    key: str
    type: Any
    description: str
    reader: Reader | None
    words: tuple[str, ...]
    example: str
    live: bool
    required: bool
    default: Any


@cache
def fields_of(table: type[msgspec.Struct]) -> tuple[Field, ...]:
    """The keys a table may have, in the order they were written down."""
    return tuple(_field(info) for info in msgspec.structs.fields(table))


def _field(info: msgspec.structs.FieldInfo) -> Field:
    metas = getattr(info.type, "__metadata__", ())
    meta = metas[0] if metas else msgspec.Meta(extra={})
    extra = meta.extra or {}
    bare = get_args(info.type)[0] if metas else info.type
    default = info.default
    if info.default_factory is not msgspec.NODEFAULT:
        default = info.default_factory()
    return Field(
        attribute=info.name,
        key=info.encode_name,
        type=bare,
        description=meta.description or "",
        reader=extra.get("reader"),
        words=extra.get("words") or choices_of(bare),
        example=extra.get("example", ""),
        live=extra.get("live", False),
        required=info.required,
        default=None if default is msgspec.NODEFAULT else default,
    )


def read_table(
    table: type[T], raw: object, place: Place, faults: list[Fault], also: tuple[str, ...] = ()
) -> T | None:
    """The table's struct, or None if it has a fault; faults are added to `faults`.

    Keys in `also` belong to somebody else and are passed over.
    """
    if not isinstance(raw, Mapping):
        mend = f"Write the heading {place.table} on a line of its own, its keys below."
        faults.append(fault(place, "", raw, "not a table", mend=mend))
        return None
    before = len(faults)
    fields = fields_of(table)
    _refuse_strangers(raw, [*(f.key for f in fields), *also], place, faults)
    values = {f.attribute: _read(f, raw.get(f.key, MISSING), place, faults) for f in fields}
    if len(faults) > before:
        return None
    return table(**values)


def fault(
    place: Place,
    key: str,
    value: object,
    problem: str,
    *,
    allowed: str = "",
    mend: str = "",
) -> Fault:
    """A fault at a place; `value` MISSING where nothing stands."""
    text = "" if value is MISSING else shown(key, value)
    return Fault(
        file=place.file,
        table=place.table,
        key=key,
        value=text,
        problem=problem,
        allowed=allowed,
        mend=mend,
    )


def _refuse_strangers(
    raw: Mapping[str, Any], known: list[str], place: Place, faults: list[Fault]
) -> None:
    for key in raw:
        if key in known:
            continue
        mend = nearest(key, known)
        if SECRET_KEY.search(key):
            mend = (
                "A secret never stands in the site file: name it by an environment variable. "
                + mend
            )
        faults.append(
            fault(place, key, raw[key], "no such key", allowed=", ".join(known), mend=mend.strip())
        )


def _read(field: Field, value: Any, place: Place, faults: list[Fault]) -> Any:
    if value is MISSING:
        if field.required:
            mend = f"Add {field.key} = {field.example}" if field.example else ""
            faults.append(fault(place, field.key, MISSING, "missing", mend=mend))
        return field.default
    try:
        return value_of(field, value, place, faults)
    except Refused as exc:
        faults.append(
            fault(place, field.key, value, exc.problem, allowed=exc.allowed, mend=exc.mend)
        )
    return None


def value_of(field: Field, value: Any, place: Place, faults: list[Fault]) -> Any:
    """What the program works with, out of what stands in the file.

    Raises Refused; faults of a table within are added to `faults`.
    """
    within = table_within(field.type)
    if within is not None:
        return read_table(within, value, place.inside(field.key), faults)
    if field.reader is not None:
        return field.reader(value, place)
    words = field.words
    if words and isinstance(value, str) and value not in words and not _is_list(field.type):
        raise Refused("not one of the words known", ", ".join(words), nearest(value, words))
    try:
        return msgspec.convert(value, field.type)
    except msgspec.ValidationError as exc:
        raise Refused("not of the sort wanted", wanted(field)) from exc


def table_within(kind: Any) -> type[msgspec.Struct] | None:
    """The struct of a field that is a table within its table, or may be one; else None."""
    for part in (kind, *get_args(kind)):
        if isinstance(part, type) and issubclass(part, msgspec.Struct):
            return part
    return None


def _is_list(kind: Any) -> bool:
    return get_origin(kind) is tuple


def choices_of(kind: Any) -> tuple[str, ...]:
    """The words a field takes, where it takes only some."""
    for part in (kind, *get_args(kind)):
        if get_origin(part) is Literal:
            return tuple(str(a) for a in get_args(part))
        if isinstance(part, type) and issubclass(part, Enum):
            return tuple(str(member.value) for member in part)
    return ()


def wanted(field: Field) -> str:
    """What a plain field takes, in words."""
    if _is_list(field.type):
        return "a list such as [" + (", ".join(f'"{c}"' for c in field.words) or '"text"') + "]"
    if field.words:
        return ", ".join(field.words)
    return "true or false" if field.type is bool else "a text in quotes"
