"""Names of people: kept apart from what they did, so that they can be erased and the rest stays."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
from sqlalchemy import select

from firmware_bridge.fleet.ingest.step import Known, Step
from firmware_bridge.fleet.records.tables import names
from firmware_bridge.forward.payloads import BatchRow

WHO, NUMBER = "who", "name_no"
"""Words of a row: a person's name as the site sends it; the number that stands for it here."""


def without_name(row: BatchRow) -> BatchRow:
    """The row without the person it speaks of."""
    if WHO not in row.words and NUMBER not in row.words:
        return row
    words = {name: text for name, text in row.words.items() if name not in (WHO, NUMBER)}
    return msgspec.structs.replace(row, words=words)


def with_number(row: BatchRow, numbers: dict[str, int]) -> BatchRow:
    """The row with the number of its person's name in the place of the name."""
    who = row.words.get(WHO, "")
    plain = without_name(row)
    if who not in numbers:
        return plain
    return msgspec.structs.replace(plain, words=plain.words | {NUMBER: str(numbers[who])})


def numbers_of(step: Step, known: Known, rows: Iterable[BatchRow]) -> dict[str, int]:
    """Numbers of the names in these rows, given now to those that have none.

    A text that a database could not hold loses the signs that are to blame.
    """
    plain = {row.words[WHO]: row.words[WHO].replace("\0", "") for row in rows if row.words.get(WHO)}
    if not plain:
        return {}
    new = [{"site_no": known.site_no, "name": name} for name in sorted(set(plain.values()))]
    step.many(step.records.upsert(names, ("site_no", "name")), new)
    asked = select(names.c.name, names.c.name_no).where(
        names.c.site_no == known.site_no,
        step.records.among_texts(names.c.name, set(plain.values())),
    )
    numbers = {row.name: row.name_no for row in step.connection.execute(asked)}
    return {name: numbers[kept] for name, kept in plain.items()}
