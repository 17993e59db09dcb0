"""Entries and faults in the reader's words."""

from __future__ import annotations

import msgspec

from analytics.errors import ActRefused
from analytics.quantities import ALKALINITY, CONDUCTIVITY, HARDNESS, TEMPERATURE, VOLUME, Quantity
from analytics.samples import AnyEvent
from dashboards.acts.forms import Field, forms
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from firmware_bridge.logbook.acts import may_undo
from firmware_bridge.store.chain import Chain, Entry
from firmware_bridge.store.events import kind_of

SHORT_DIGEST = 12
HELD_BACK = ("hardness_step_mmol_l", "relative_sd", "litres_before_sd")


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One entry as the logbook shows it."""

    number: int
    event_id: str
    kind: str
    title: str
    when: str
    who: str
    line: str
    facts: tuple[tuple[str, str], ...]
    note: str
    state: str
    known: str
    holds: bool
    may_undo: bool
    may_correct: bool
    digest: str


class LogbookView(msgspec.Struct, frozen=True, kw_only=True):
    """The logbook, newest first, and what the check of its chain found."""

    rows: tuple[Row, ...]
    chain: str
    whole: bool
    lines: tuple[str, ...]


def logbook_view(
    entries: list[Entry], chain: Chain, lines: tuple[str, ...], reader: Reader, when: When
) -> LogbookView:
    """The newest of these entries in words."""
    numbers = {entry.event.event_id: entry.seq for entry in entries}
    rows = [_row(entry, numbers, reader, when) for entry in entries[::-1]]
    head = chain.head[:SHORT_DIGEST]
    said = (
        reader.say("logbook.broken", number=chain.broken_at)
        if chain.broken_at
        else reader.say("logbook.whole", entries=chain.entries, head=head)
    )
    return LogbookView(rows=tuple(rows), chain=said, whole=not chain.broken_at, lines=lines)


def _row(entry: Entry, numbers: dict[str, int], reader: Reader, when: When) -> Row:
    event = entry.event
    kind = kind_of(event)
    return Row(
        number=entry.seq,
        event_id=event.event_id,
        kind=kind,
        title=reader.say(f"act.{kind}"),
        when=when.moment(event.at_ms),
        who=reader.say("logbook.by", who=event.who) if event.who else "",
        line=event.line_id,
        facts=tuple(facts_of(event, reader, when)),
        note=event.note,
        state=_state(entry, numbers, reader),
        known=_known(event, reader, when),
        holds=not entry.withdrawn_by,
        may_undo=may_undo(entry, when.now_ms),
        may_correct=kind in forms() and not entry.withdrawn_by,
        digest=entry.digest[:SHORT_DIGEST],
    )


def _known(event: AnyEvent, reader: Reader, when: When) -> str:
    """When it was written down; nothing for what was there from the beginning."""
    if not event.known_at_ms:
        return ""
    return reader.say("logbook.known", moment=when.moment(event.known_at_ms))


def _state(entry: Entry, numbers: dict[str, int], reader: Reader) -> str:
    if entry.withdrawn_by:
        return reader.say("logbook.corrected", number=entry.withdrawn_by)
    withdraws = getattr(entry.event, "withdraws", "")
    if withdraws:
        return reader.say("logbook.of", number=numbers.get(withdraws, 0))
    if entry.event.corrects:
        return reader.say("logbook.in-place", number=numbers.get(entry.event.corrects, 0))
    return ""


def facts_of(event: AnyEvent, reader: Reader, when: When) -> list[tuple[str, str]]:
    """What an act states, field by field, in the reader's units."""
    form = forms().get(kind_of(event))
    found = []
    for field in form.fields if form else ():
        value = getattr(event, field.attribute)
        if value is not None and value != "" and field.attribute not in HELD_BACK:
            found.append(
                (reader.say(f"field.{field.attribute}"), _said(field, value, reader, when))
            )
    return found


def _said(field: Field, value: float | str, reader: Reader, when: When) -> str:
    if field.sort == "choice":
        return reader.say(f"field.{field.attribute}.{value}")
    if isinstance(value, str):
        return value
    if field.sort == "moment":
        return when.moment(round(value))
    if field.sort == "percent":
        return reader.decimal(f"{value * 100:.3g} %")
    if field.quantity is None:
        return reader.decimal(f"{value:.6g}")
    return reader.decimal(field.quantity.shown(value, _unit(field.quantity, reader)))


def _unit(quantity: Quantity, reader: Reader) -> str:
    chosen = {
        HARDNESS.name: reader.hardness_unit,
        ALKALINITY.name: reader.hardness_unit,
        TEMPERATURE.name: reader.temperature_unit,
        VOLUME.name: reader.volume_unit,
        CONDUCTIVITY.name: "uS/cm",
    }
    return chosen[quantity.name]


def faults_said(refused: ActRefused, reader: Reader) -> tuple[str, ...]:
    """Every fault as a sentence."""
    return tuple(f"{_where(field, reader)} {reader.say(f'fault.{code}')}" for field, code in
                 refused.faults)  # fmt: skip


def _where(field: str, reader: Reader) -> str:
    for key in (f"fault.where.{field}", f"field.{field}"):
        if reader.has(key):
            return reader.say(key)
    return field
