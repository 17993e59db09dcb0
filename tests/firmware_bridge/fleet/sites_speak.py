"""What sites say, as it comes over the wire; and what is kept of it."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Table, select

from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import chunks, events, sites
from firmware_bridge.forward.payloads import (
    BatchRow,
    Message,
    card_message,
    gone_message,
    now_messages,
    online_message,
    pack,
)
from firmware_bridge.forward.sink import LineCard, SiteCard
from firmware_bridge.receiver.words import Incoming
from firmware_bridge.store.out_row import OutRow

PREFIX = "lastlitre"
SITE = "harbour-steps"
LINES = (LineCard(line_id="bar", medium="hydrogen", size="XL", capacity_mmol=640.0),)


def incoming(*messages: Message) -> list[Incoming]:
    """Messages as they come."""
    return [Incoming(message.topic, message.payload) for message in messages]


def said(rows: Sequence[OutRow], site: str = SITE, box: str = "") -> list[Incoming]:
    """Rows of a site as messages."""
    packed, unfit = pack(rows, PREFIX, site, box)
    assert not unfit
    return incoming(*packed)


def card(site: str = SITE, box: str = "", lines: tuple[LineCard, ...] = LINES) -> list[Incoming]:
    """A site introduces itself."""
    told = SiteCard(
        site_id=site, name=f"Name of {site}", service="Northgate Water Care", box=box, lines=lines
    )
    return incoming(card_message(told, PREFIX))


def gone(*spans: tuple[int, int], site: str = SITE) -> list[Incoming]:
    """Numbers that never come."""
    return incoming(gone_message(spans, PREFIX, site))


def online(value: bool, site: str = SITE) -> list[Incoming]:
    """A site's presence."""
    return incoming(online_message(site, PREFIX, value))


def summary(*rows: OutRow, site: str = SITE) -> list[Incoming]:
    """The newest of each kind, out of turn."""
    kinds = {f"alarm {row.words}" if row.kind == "alarm" else row.kind: row for row in rows}
    return incoming(*now_messages({rows[0].line_id: kinds}, PREFIX, site))


def kept(records: Records, site: str = SITE) -> dict[int, tuple[str, str, BatchRow]]:
    """Every row that is kept of a site, by number, with line and kind; fails where one is twice."""
    found: dict[int, tuple[str, str, BatchRow]] = {}
    with records.read() as connection:
        site_no = connection.scalar(select(sites.c.site_no).where(sites.c.site == site))
        asked = select(chunks).where(chunks.c.site_no == site_no)
        for chunk in connection.execute(asked):
            for row in unpacked(chunk.body):
                assert row.seq not in found, f"number {row.seq} is there twice"
                found[row.seq] = (chunk.line, chunk.kind, row)
        for event in connection.execute(select(events).where(events.c.site_no == site_no)):
            assert event.seq not in found, f"number {event.seq} is there twice"
            found[event.seq] = (event.line, "event", unpack_event(event.body))
    return found


def unpack_event(body: str) -> BatchRow:
    """An event's row."""
    import msgspec

    return msgspec.json.decode(body, type=BatchRow)


def all_of(records: Records, table: Table) -> list[dict[str, object]]:
    """Every row of a table."""
    with records.read() as connection:
        return [dict(row) for row in connection.execute(select(table)).mappings()]
