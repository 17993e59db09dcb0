"""Rows of one site to chunks: those that are held already are dropped, the others kept once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
from sqlalchemy import select

from firmware_bridge.fleet.ingest.messages import LONGEST_AHEAD, Heard, Refused, Rows
from firmware_bridge.fleet.ingest.persons import numbers_of, with_number, without_name
from firmware_bridge.fleet.ingest.step import Known, Step
from firmware_bridge.fleet.records.bodies import encoded, packed, unpacked
from firmware_bridge.fleet.records.tables import chunks, events
from firmware_bridge.fleet.records.thinning import PACKED
from firmware_bridge.forward.payloads import BatchRow
from firmware_bridge.receiver.spans import runs

_event = msgspec.json.Decoder(BatchRow)

Place = tuple[str, str]
"""Line and kind."""


class Fresh(msgspec.Struct):
    """Rows of one line and kind that were not held before, with their JSON."""

    line: str
    kind: str
    rows: list[BatchRow]
    texts: list[bytes]
    newest: BatchRow
    """The one with the highest number."""


def fresh_rows(step: Step, known: Known, heard: Heard, thinned_ms: int) -> list[Fresh]:
    """The rows of a site that are new, by line and kind; their numbers are held from now on."""
    found: dict[Place, Fresh] = {}
    stored: dict[int, tuple[Place, BatchRow]] | None = None
    for batch in heard.batches:
        if batch.rows[-1].seq > known.held.highest + LONGEST_AHEAD:
            reason = f"number {batch.rows[-1].seq} is far beyond all that came before"
            step.aside.append(Refused(known.site, batch.topic, reason, batch.text))
            continue
        rows, text = batch.rows, batch.text
        if not _all_new(rows, known):
            if stored is None:
                stored = _stored(step, known, heard.batches) | _just_now(found.values())
            rows = _new_ones(step, known, batch, stored, thinned_ms)
            text = encoded(rows)
        if not rows:
            continue
        fresh = found.setdefault(
            (batch.line, batch.kind), Fresh(batch.line, batch.kind, [], [], rows[-1])
        )
        fresh.rows += rows
        fresh.newest = max(fresh.newest, rows[-1], key=_number)
        fresh.texts.append(text if b"\n" not in text else encoded(rows))
        if stored is not None:
            stored |= {row.seq: ((batch.line, batch.kind), row) for row in rows}
        _hold(known, rows)
    for each in found.values():
        if each.kind == "alarm" and any("who" in row.words for row in each.rows):
            numbers = numbers_of(step, known, each.rows)
            each.texts = [encoded([with_number(row, numbers) for row in each.rows])]
    return list(found.values())


def chunk_of(known: Known, fresh: Fresh) -> dict[str, Any]:
    """A chunk of fresh rows."""
    rows, instants = fresh.rows, [row.at_ms for row in fresh.rows]
    numbers = [row.seq for row in rows]
    return {
        "site_no": known.site_no, "line": fresh.line, "kind": fresh.kind, "first": min(numbers),
        "last": max(numbers), "rows": len(rows), "from_ms": min(instants), "to_ms": max(instants),
        "body": packed(fresh.texts), "era": known.era, "grain_ms": 0,
    }  # fmt: skip


def _number(row: BatchRow) -> int:
    return row.seq


def _all_new(rows: Sequence[BatchRow], known: Known) -> bool:
    """Whether none of these numbers is held; the usual case, and a cheap look."""
    if rows[0].seq > known.held.highest:
        return True
    return not any(row.seq in known.held for row in rows)


def _hold(known: Known, rows: Sequence[BatchRow]) -> None:
    known.changed = True
    first, last = rows[0].seq, rows[-1].seq
    if last - first + 1 == len(rows):
        known.held.add(first, last)
        return
    for first, last in runs([row.seq for row in rows]):
        known.held.add(first, last)


def _stored(step: Step, known: Known, batches: Sequence[Rows]) -> dict[int, tuple[Place, BatchRow]]:
    """Rows that are kept already among the numbers of these batches."""
    first = min(batch.rows[0].seq for batch in batches)
    last = max(batch.rows[-1].seq for batch in batches)
    own = (chunks.c.site_no == known.site_no) & (chunks.c.era == known.era)
    asked = select(chunks.c.line, chunks.c.kind, chunks.c.body).where(
        own, chunks.c.last >= first, chunks.c.first <= last, chunks.c.grain_ms <= PACKED
    )
    found: dict[int, tuple[Place, BatchRow]] = {}
    for line, kind, body in step.connection.execute(asked):
        for row in unpacked(body):
            if first <= row.seq <= last:
                found[row.seq] = ((line, kind), row)
    of_site = (events.c.site_no == known.site_no) & (events.c.era == known.era)
    told = select(events.c.line, events.c.body).where(of_site, events.c.seq.between(first, last))
    for line, text in step.connection.execute(told):
        row = _event.decode(text)
        found[row.seq] = ((line, "event"), row)
    return found


def _just_now(kept: Iterable[Fresh]) -> dict[int, tuple[Place, BatchRow]]:
    """Rows that came earlier in this very step."""
    return {row.seq: ((each.line, each.kind), row) for each in kept for row in each.rows}


def _new_ones(
    step: Step,
    known: Known,
    batch: Rows,
    stored: dict[int, tuple[Place, BatchRow]],
    thinned_ms: int,
) -> list[BatchRow]:
    """Of rows with numbers that are held: those that were thought gone. Contradictions go aside.

    A number that is held and has no row was said to be gone, or its row became a value by the
    minute since; the latter only where it is so old.
    """
    new: list[BatchRow] = []
    other: dict[int, BatchRow] = defaultdict()
    for row in batch.rows:
        if row.seq not in known.held:
            new.append(row)
        elif row.seq in stored:
            place, before = stored[row.seq]
            if place != (batch.line, batch.kind) or without_name(before) != without_name(row):
                other[row.seq] = row
        elif batch.kind != "reading" or row.at_ms >= thinned_ms:
            new.append(row)
    for row in other.values():
        reason = f"number {row.seq} is another row already"
        step.aside.append(Refused(known.site, batch.topic, reason, encoded([row])))
    if other:
        step.doubt(known, "other-rows", number=min(other), rows=len(other))
    return new
