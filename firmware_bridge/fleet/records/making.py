"""The tables made, or brought up to date: what a newer program needs is added, nothing is changed.

Columns and indexes that are missing are added with their defaults; an older program reads on. Where
that would not do, the format's number is raised, and an older program says so.
"""

from __future__ import annotations

import zlib
from typing import Any

from sqlalchemy import Column, Connection, inspect, select, text
from sqlalchemy.schema import CreateColumn

from analytics.errors import StoreError
from firmware_bridge.fleet.records.tables import marks, metadata

FORMAT = 1
"""Raised where a program that does not know of a change could not work with the tables."""


def make_tables(connection: Connection, where: str) -> dict[str, str]:
    """Make what is missing, in the step under way; marks to be set. Raises StoreError."""
    metadata.create_all(connection)
    asked = select(marks.c.mark, marks.c.value).where(marks.c.mark.in_(("format", "columns")))
    known = {row.mark: row.value for row in connection.execute(asked)}
    if int(known.get("format", "0")) > FORMAT:
        raise StoreError(
            f"{where}: these records are of format {known['format']}; this program knows up to"
            f" {FORMAT}",
            "They were written by a newer version of the program: install that one again.",
        )
    now = {"format": str(FORMAT), "columns": _columns()}
    if known == now:
        return {}
    if known:
        _add_missing(connection)
    return now


def _columns() -> str:
    """A short word for all columns and indexes that this program knows."""
    names = [str(column) for table in metadata.sorted_tables for column in table.columns]
    names += [str(index.name) for table in metadata.sorted_tables for index in table.indexes]
    return f"{zlib.crc32(' '.join(sorted(names)).encode()):08x}"


def _add_missing(connection: Connection) -> None:
    found = inspect(connection)
    for table in metadata.sorted_tables:
        there = {column["name"] for column in found.get_columns(table.name)}
        for column in table.columns:
            if column.name not in there:
                added = f'ALTER TABLE "{table.name}" ADD COLUMN {_defined(connection, column)}'
                connection.execute(text(added))
        for index in table.indexes:
            index.create(connection, checkfirst=True)


def _defined(connection: Connection, column: Column[Any]) -> str:
    """A column with the value that rows get that are there already."""
    plain = str(CreateColumn(column).compile(dialect=connection.dialect))
    if column.default is None or not column.default.is_scalar:
        return plain
    value: Any = column.default.arg  # type: ignore[attr-defined]
    literal = column.type.literal_processor(connection.dialect)
    written = literal(value) if literal is not None else str(value)
    return f"{plain} DEFAULT {written}"
