"""Lists as CSV: instants as ISO 8601, figures in full, no cell that a table program would run."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

import msgspec

from dashboards.page import Given
from firmware_bridge.export import safe, utc


class Instant(msgspec.Struct, frozen=True):
    """An instant as a cell; None is an empty one."""

    at_ms: float | None


def csv_of(name: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> Given:
    """A table to be kept as a file of this name."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return Given(body=out.getvalue().encode(), kind="text/csv; charset=utf-8", file_name=name)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, Instant):
        return "" if value.at_ms is None else utc(round(value.at_ms))
    if isinstance(value, float):
        return f"{value:.6g}"
    return safe(value) if isinstance(value, str | int) else str(value)
