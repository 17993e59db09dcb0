"""A recording file: readings of one line as CSV, plain or gzip.

    time,outlet_conductivity_uS_cm,outlet_temperature_C,inlet_conductivity_uS_cm,
    inlet_temperature_C,flow_pulses

`time` is UTC ("2026-05-14T08:00:00Z"), conductivity is as the probe reads it, `flow_pulses` were
counted since the row before, blank is no reading. The inlet columns may be absent. Whole chunks
are read by columns; a chunk with a fault in it is read again line by line, so that the bad line is
named and every good one kept.
"""

from __future__ import annotations

import csv
import gzip
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

import msgspec
import numpy as np

from analytics.errors import RecordingError
from analytics.samples import NO_COUNT, Floats, Ints, Rows

COLUMNS = {
    "time": "at_ms",
    "outlet_conductivity_uS_cm": "outlet_us_cm",
    "outlet_temperature_C": "outlet_temp_c",
    "inlet_conductivity_uS_cm": "inlet_us_cm",
    "inlet_temperature_C": "inlet_temp_c",
    "flow_pulses": "pulses",
}
OPTIONAL = ("inlet_conductivity_uS_cm", "inlet_temperature_C")
CHUNK = 4 << 20
LONGEST_LINE = 4096
LEAP_MS = 86_400_000
"""Time that runs back by more than this was wrong before, if only for a few rows."""
LEAPING = 0.05
"""More than this share of rows is no lone leap."""
KEPT_ASIDE = 20
"""How many faulty lines are described; all are counted."""


class Aside(msgspec.Struct):
    """What could not be used, and why; `said` describes the first few."""

    bad_lines: int = 0
    backwards: int = 0
    leaps: int = 0
    cut_short: bool = False
    said: list[str] = msgspec.field(default_factory=list)

    def add(self, sentence: str) -> None:
        """Describe one more fault, while there is room."""
        if len(self.said) < KEPT_ASIDE:
            self.said.append(sentence)


class Recording(msgspec.Struct):
    """An open recording: its columns, and what was put aside while it is read."""

    path: Path
    stream: IO[bytes]
    columns: list[str]
    size: int
    aside: Aside = msgspec.field(default_factory=Aside)
    line: int = 1
    last_ms: int = -(1 << 62)
    raw: IO[bytes] | None = None

    def progress(self) -> float:
        """Share of the file read so far (0-1)."""
        return (self.raw or self.stream).tell() / self.size if self.size else 1.0


def open_recording(path: Path) -> Recording:
    """Open a recording and read its head.

    Raises RecordingError when it is missing, empty, or its head lacks a column.
    """
    try:
        raw = path.open("rb")
    except OSError as fault:
        raise RecordingError(f"{path}: {fault.strerror}.", "Check the path.") from fault
    try:
        return _opened(path, raw)
    except BaseException:
        raw.close()
        raise


def _opened(path: Path, raw: Any) -> Recording:
    packed = raw.read(2) == b"\x1f\x8b"
    raw.seek(0)
    stream: Any = gzip.GzipFile(fileobj=raw) if packed else raw
    try:
        head = stream.readline(LONGEST_LINE).decode("utf-8-sig")
    except (EOFError, zlib.error, gzip.BadGzipFile, UnicodeDecodeError) as fault:
        hint = "Copy the file again."
        raise RecordingError(f"{path}: line 1: cannot be read ({fault}).", hint) from fault
    if not head.strip():
        raise RecordingError(
            f"{path}: is empty.", "A recording begins with a line of column names."
        )
    columns = [name.strip() for name in head.strip().split(",")]
    _check_columns(path, columns)
    return Recording(path=path, stream=stream, columns=columns, size=path.stat().st_size, raw=raw)


def _check_columns(path: Path, columns: list[str]) -> None:
    missing = [name for name in COLUMNS if name not in columns and name not in OPTIONAL]
    if missing:
        raise RecordingError(
            f"{path}: line 1: column {', '.join(missing)} is missing; found {', '.join(columns)}.",
            f"The first line must name: {', '.join(COLUMNS)} (inlet columns may be absent).",
        )
    doubled = {name for name in columns if name in COLUMNS and columns.count(name) > 1}
    if doubled:
        sentence = f"{path}: line 1: column {', '.join(sorted(doubled))} stands there twice."
        raise RecordingError(sentence, "Keep one of the two.")


def read_rows(recording: Recording) -> Iterator[Rows]:
    """Rows of the recording, some ten thousand at a time, in order of time.

    What cannot be read is counted in `recording.aside`; a file cut short gives what is there.
    """
    rest = b""
    while True:
        try:
            chunk = recording.stream.read(CHUNK)
        except (EOFError, zlib.error, gzip.BadGzipFile) as fault:
            recording.aside.cut_short = True
            recording.aside.add(f"{recording.path}: cut short after line {recording.line}: {fault}")
            chunk = _salvage(recording, rest)
        if not chunk:
            break
        lines = (rest + chunk).split(b"\n")
        rest = lines.pop()[: LONGEST_LINE + 1]  # a line without an end must not pile up
        yield from _block(recording, lines)
    if rest.strip() and not recording.aside.cut_short:
        yield from _block(recording, [rest])


def _salvage(recording: Recording, rest: bytes) -> bytes:
    """After a broken gzip: what can still be unpacked beyond what was read, once."""
    if recording.stream is recording.raw:
        return b""
    recording.stream, data = recording.raw or recording.stream, b""
    whole = zlib.decompressobj(31)
    recording.stream.seek(0)
    packed = recording.stream.read()
    try:
        data = whole.decompress(packed)
    except zlib.error:
        data = _unpack_slowly(packed)
    lines = data.split(b"\n")
    return b"\n".join(lines[recording.line :])[len(rest) :]


def _unpack_slowly(packed: bytes) -> bytes:
    whole, found = zlib.decompressobj(31), bytearray()
    for place in range(0, len(packed), 512):
        try:
            found += whole.decompress(packed[place : place + 512])
        except zlib.error:
            break
    return bytes(found)


def _block(recording: Recording, lines: list[bytes]) -> Iterator[Rows]:
    first = recording.line + 1
    recording.line += len(lines)
    lines = [line for line in lines if line.strip()] if b"" in lines or b"\r" in lines else lines
    if not lines:
        return
    try:
        columns = _by_columns(recording.columns, lines)
    except (ValueError, OverflowError):
        columns = _line_by_line(recording, lines, first)
    rows = _in_order(recording, columns)
    if len(rows):
        yield rows


def _by_columns(names: list[str], lines: list[bytes]) -> dict[str, Any]:
    """All lines at once; raises ValueError when any one is not as it should be."""
    if any(b'"' in line for line in lines):
        raise ValueError("quoted")
    cells = list(zip(*[line.rstrip(b"\r").split(b",") for line in lines], strict=True))
    if len(cells) != len(names):
        raise ValueError("columns")
    found = {COLUMNS[n]: np.array(c) for n, c in zip(names, cells, strict=True) if n in COLUMNS}
    columns: dict[str, Any] = {"at_ms": _instants(found.pop("at_ms"))}
    for name, texts in found.items():
        columns[name] = _numbers(texts)
    return _finish(columns)


def _instants(texts: Any) -> Ints:
    if texts.dtype.itemsize != 20 or not (texts.view("S1").reshape(-1, 20)[:, 19] == b"Z").all():
        raise ValueError("instants")
    seconds = texts.astype("S19").astype("U19").astype("datetime64[s]")
    return np.asarray(seconds.astype(np.int64) * 1000)


def _numbers(texts: Any) -> Floats:
    values = np.asarray(np.where(texts == b"", b"nan", texts).astype(np.float64))
    if np.isinf(values).any():
        raise ValueError("infinite")
    return values


def _finish(columns: dict[str, Any]) -> dict[str, Any]:
    count = len(columns["at_ms"])
    blank = np.full(count, np.nan)
    for name in ("inlet_us_cm", "inlet_temp_c"):
        columns.setdefault(name, blank)
    pulses = columns["pulses"]
    whole = np.where(np.isnan(pulses), NO_COUNT, pulses)
    if (whole != np.round(whole)).any() or (whole < NO_COUNT).any():
        raise ValueError("pulses")
    columns["pulses"] = whole.astype(np.int64)
    columns["flags"] = np.zeros(count, dtype=np.int64)
    return columns


def _line_by_line(recording: Recording, lines: list[bytes], first: int) -> dict[str, Any]:
    """The slow way, which names the line at fault and keeps all others."""
    good: dict[str, list[float]] = {name: [] for name in COLUMNS.values()}
    for number, line in enumerate(lines, start=first):
        try:
            values = _one_line(recording.columns, line)
        except ValueError as fault:
            recording.aside.bad_lines += 1
            recording.aside.add(f"{recording.path}: line {number}: {fault}; line left out.")
            continue
        for name in good:
            good[name].append(values.get(name, float("nan")))
    columns: dict[str, Any] = {n: np.array(v, dtype=np.float64) for n, v in good.items()}
    columns["at_ms"] = columns["at_ms"].astype(np.int64)
    return _finish(columns)


def _one_line(names: list[str], line: bytes) -> dict[str, float]:
    if len(line) > LONGEST_LINE:
        raise ValueError("longer than any line may be")
    text = line.decode("utf-8", errors="replace")
    try:
        cells = next(csv.reader([text]), [])
    except csv.Error as fault:
        raise ValueError(f"not CSV ({fault})") from fault
    if len(cells) != len(names):
        raise ValueError(f"{len(cells)} columns where the head has {len(names)}")
    values: dict[str, float] = {}
    for name, cell in zip(names, cells, strict=True):
        if name in COLUMNS:
            values[COLUMNS[name]] = _one_cell(name, cell.strip())
    return values


def _one_cell(name: str, cell: str) -> float:
    if name == "time":
        return _one_instant(cell)
    if not cell:
        return float("nan")
    try:
        value = float(cell)
    except ValueError:
        raise ValueError(f"{name} is {cell[:40]!r}, not a number") from None
    if not np.isfinite(value):
        raise ValueError(f"{name} is {cell[:40]!r}; leave it blank where there is no reading")
    if name == "flow_pulses" and (value < 0 or value != round(value)):
        raise ValueError(f"flow_pulses is {cell[:40]!r}, not a whole number of pulses")
    return value


def _one_instant(cell: str) -> float:
    try:
        instant = datetime.fromisoformat(cell)
    except ValueError:
        raise ValueError(f"time is {cell[:40]!r}, not like 2026-05-14T08:00:00Z") from None
    if instant.tzinfo is None:
        instant = instant.replace(tzinfo=UTC)
    return float(round(instant.timestamp() * 1000))


def _without_leaps(recording: Recording, columns: dict[str, Any]) -> dict[str, Any]:
    """Leave out the few rows whose time leaps far ahead of all that follow: the clock was wrong for
    a moment, and the rows after it are not the ones that are out of order."""
    at = columns["at_ms"]
    if not len(at):
        return columns
    following = np.minimum.accumulate(at[::-1])[::-1]
    leaps = np.zeros(len(at), dtype=bool)
    leaps[:-1] = at[:-1] - following[1:] > LEAP_MS
    leaps &= at > recording.last_ms
    count = int(leaps.sum())
    if not count or count > LEAPING * len(at):
        return columns
    when = iso_ms(int(at[np.flatnonzero(leaps)[0]]))
    recording.aside.leaps += count
    recording.aside.add(
        f"{recording.path}: time leaps ahead to {when} ({count} rows of this part); left out."
    )
    return {name: column[~leaps] for name, column in columns.items()}


def iso_ms(at_ms: int) -> str:
    """An instant as it is written in messages."""
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _in_order(recording: Recording, columns: dict[str, Any]) -> Rows:
    """Leave out rows that are not later than every row before them."""
    columns = _without_leaps(recording, columns)
    at = columns["at_ms"]
    if not len(at):
        return Rows(**columns)
    highest = np.maximum.accumulate(np.concatenate(([recording.last_ms], at)))
    forward = at > highest[:-1]
    back = int(len(at) - forward.sum())
    if back:
        recording.aside.backwards += back
        place = int(np.flatnonzero(~forward)[0])
        when = iso_ms(int(at[place]))
        recording.aside.add(
            f"{recording.path}: time runs backwards at {when} ({back} rows of this part); left out."
        )
        columns = {name: column[forward] for name, column in columns.items()}
    recording.last_ms = int(highest[-1])
    return Rows(**columns)
