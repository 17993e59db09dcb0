"""What the site's file holds as CSV (or CSV in gzip) for people and other programs.

Times are UTC ("2026-05-14T08:00:00.250Z"), numbers plain with their unit in the column's name;
blank is not measured. Readings have the columns of a recording, so the export of one line can be
replayed.

A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a line's end)
gets an apostrophe before it; common practice, OWASP "CSV injection".
"""

from __future__ import annotations

import csv
import gzip
import io
import math
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

import msgspec

from analytics.errors import LastLitreError
from analytics.samples import DAY_MS, DRAW_COLUMNS, NO_COUNT, AnyEvent, Estimate
from firmware_bridge.recording import COLUMNS
from firmware_bridge.store.outgoing import estimate_numbers, event_row
from firmware_bridge.store.reader import Reader

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n")
PIECE_MS = 30 * DAY_MS
"""Draws, estimates, alarms and events are read a month at a time."""

Cell = str | int | float | None
Piece = tuple[float, list[list[Cell]]]
"""How far the export is (0-1), and rows for the file."""

EVENT_TEXTS = ("event", "event_id", "withdraws", "note")


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """Which lines, and instants in [from_ms, to_ms)."""

    lines: tuple[str, ...]
    from_ms: int
    to_ms: int


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of export: its columns, and its rows piece by piece."""

    columns: tuple[str, ...]
    pieces: Callable[[Reader, Asked], Iterator[Piece]]


def export(
    reader: Reader, kind: str, asked: Asked, out: Path, progress: Callable[[float], None]
) -> int:
    """Write a sheet to `out`; the number of its rows. The file is there whole or not at all.

    Raises LastLitreError where it cannot be written, StoreError where the site's file fails.
    """
    sheet = SHEETS[kind]
    count = 0
    with _written(out) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(sheet.columns)
        for share, rows in sheet.pieces(reader, asked):
            writer.writerows([[safe(cell) for cell in row] for row in rows])
            count += len(rows)
            progress(share)
    progress(1.0)
    return count


def safe(cell: Cell) -> str:
    """A cell as text: never a formula, blank for what is not there."""
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(FORMULA_SIGNS) else cell
    return repr(cell)


def utc(at_ms: int) -> str:
    """An instant as text."""
    moment = datetime.fromtimestamp(at_ms // 1000, UTC)
    part = f".{at_ms % 1000:03d}" if at_ms % 1000 else ""
    return f"{moment:%Y-%m-%dT%H:%M:%S}{part}Z"


@contextmanager
def _written(out: Path) -> Iterator[TextIO]:
    """A text file beside `out` that takes its place once it is whole and on the disk."""
    beside = out.with_name(f".{out.name}.part")
    try:
        with beside.open("wb") as raw:
            packed = gzip.GzipFile(fileobj=raw, mode="wb", mtime=0) if _is_gzip(out) else None
            with io.TextIOWrapper(packed or raw, encoding="utf-8", newline="") as file:
                yield file
                file.flush()
                if packed is not None:
                    packed.close()
                raw.flush()
                os.fsync(raw.fileno())
        beside.replace(out)
    except OSError as exc:
        raise LastLitreError(
            f"{out}: {exc.strerror or exc}.", "Choose another place for --out, with room."
        ) from exc
    finally:
        beside.unlink(missing_ok=True)


def _is_gzip(out: Path) -> bool:
    return out.suffix == ".gz"


def _readings(reader: Reader, asked: Asked) -> Iterator[Piece]:
    for number, line in enumerate(asked.lines):
        span = reader.span(line)
        if span is None:
            continue
        first, last = max(span[0], asked.from_ms), min(span[1] + 1, asked.to_ms)
        if first >= last:
            continue
        for rows in reader.rows_by_hour(line, first, last):
            done = (int(rows.at_ms[-1]) - first) / (last - first)
            columns = [getattr(rows, name).tolist() for name in list(COLUMNS.values())[1:]]
            flags = rows.flags.tolist()
            pulses = [None if count == NO_COUNT else count for count in columns.pop()]
            yield (
                (number + done) / len(asked.lines),
                [
                    [utc(at_ms), *values]
                    for at_ms, *values in zip(
                        rows.at_ms.tolist(), *columns, pulses, [line] * len(flags), flags,
                        strict=True,
                    )
                ],
            )  # fmt: skip


def _by_month(
    one: Callable[[Reader, tuple[str, ...], int, int], Iterable[list[Cell]]],
) -> Callable[[Reader, Asked], Iterator[Piece]]:
    """Pieces of a sheet whose rows are asked for by lines and span."""

    def pieces(reader: Reader, asked: Asked) -> Iterator[Piece]:
        whole = max(asked.to_ms - asked.from_ms, 1)
        for start in range(asked.from_ms, asked.to_ms, PIECE_MS):
            stop = min(start + PIECE_MS, asked.to_ms)
            rows = list(one(reader, asked.lines, start, stop))
            yield (stop - asked.from_ms) / whole, rows

    return pieces


def _line_by_line(
    one: Callable[[Reader, str, int, int], Iterator[list[Cell]]],
) -> Callable[[Reader, tuple[str, ...], int, int], Iterator[list[Cell]]]:
    def rows(reader: Reader, lines: tuple[str, ...], start: int, stop: int) -> Iterator[list[Cell]]:
        for line in lines:
            yield from one(reader, line, start, stop)

    return rows


def _draws(reader: Reader, line: str, start: int, stop: int) -> Iterator[list[Cell]]:
    draws = reader.draws(line, start, stop)
    columns = [getattr(draws, name).tolist() for name in DRAW_COLUMNS]
    for at_ms, *values in zip(*columns, strict=True):
        yield [utc(at_ms), line, *values]


def _estimates(reader: Reader, line: str, start: int, stop: int) -> Iterator[list[Cell]]:
    for estimate in reader.estimates(line, start, stop):
        numbers = estimate_numbers(estimate)
        yield [
            utc(estimate.at_ms),
            utc(estimate.known_at_ms),
            line,
            *(getattr(estimate, name) for name in ESTIMATE_TEXTS),
            *(numbers.get(name) for name in ESTIMATE_NUMBERS),
        ]


def _alarms(reader: Reader, line: str, start: int, stop: int) -> Iterator[list[Cell]]:
    for known in reader.alarm_changes(line, start, stop):
        change = known.change
        yield [
            utc(change.at_ms), line, change.alarm, change.change, change.priority, change.text,
        ]  # fmt: skip


def _events(reader: Reader, lines: tuple[str, ...], start: int, stop: int) -> Iterator[list[Cell]]:
    """Events of the lines and of the whole site, by date."""
    for event in reader.events(None, start, stop):
        if event.line_id in (*lines, ""):
            yield _event(event)


def _event(event: AnyEvent) -> list[Cell]:
    row = event_row(0, event)
    named = {**row.numbers, **row.words}
    rest = {name: value for name, value in named.items() if name not in EVENT_TEXTS}
    rest.pop("known_at_ms", None)
    texts = [row.words.get(name) for name in EVENT_TEXTS]
    more = "; ".join(f"{name}={value}" for name, value in rest.items())
    return [utc(event.at_ms), utc(event.known_at_ms), event.line_id, *texts, more]


def _columns_of_estimates() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of an estimate's texts and of its numbers, spreads as <name>_p05 and so on."""
    texts: list[str] = []
    numbers: list[str] = []
    info = msgspec.inspect.type_info(Estimate)
    assert isinstance(info, msgspec.inspect.StructType)
    for field in info.fields:
        kinds = getattr(field.type, "types", (field.type,))
        inner = [kind for kind in kinds if isinstance(kind, msgspec.inspect.StructType)]
        if inner:
            numbers += [f"{field.name}_{part.name}" for part in inner[0].fields]
        elif any(isinstance(kind, msgspec.inspect.StrType) for kind in kinds):
            texts.append(field.name)
        elif not any(isinstance(kind, msgspec.inspect.VarTupleType) for kind in kinds):
            numbers.append(field.name)
    at_front = ("at_ms", "known_at_ms")
    return tuple(texts), tuple(name for name in numbers if name not in at_front)


ESTIMATE_TEXTS, ESTIMATE_NUMBERS = _columns_of_estimates()

SHEETS = {
    "readings": Sheet(columns=(*COLUMNS, "line", "flags"), pieces=_readings),
    "draws": Sheet(
        columns=("time", "line", *DRAW_COLUMNS[1:]), pieces=_by_month(_line_by_line(_draws))
    ),
    "estimates": Sheet(
        columns=("time", "known_at", "line", *ESTIMATE_TEXTS, *ESTIMATE_NUMBERS),
        pieces=_by_month(_line_by_line(_estimates)),
    ),
    "alarms": Sheet(
        columns=("time", "line", "alarm", "change", "priority", "text"),
        pieces=_by_month(_line_by_line(_alarms)),
    ),
    "events": Sheet(
        columns=("time", "known_at", "line", *EVENT_TEXTS, "more"), pieces=_by_month(_events)
    ),
}
