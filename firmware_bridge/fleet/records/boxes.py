"""Which box speaks for a site: what a person decides where two do."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, delete, select, update

from firmware_bridge.fleet.records.tables import alarms, doubts, held, lines, sites

TWO_BOXES = "two-boxes"


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """Since when other boxes speak under a site's name, and which these are."""

    since_ms: int
    others: tuple[str, ...]


class _Body(msgspec.Struct, frozen=True, kw_only=True):
    boxes: tuple[str, ...] = ()


def claim_of(connection: Connection, site_no: int) -> Claim | None:
    """What other boxes claim to be this site; None where none does."""
    asked = (
        select(doubts.c.since_ms, doubts.c.body, sites.c.box)
        .join(sites, sites.c.site_no == doubts.c.site_no)
        .where(doubts.c.site_no == site_no, doubts.c.doubt == TWO_BOXES)
    )
    found = connection.execute(asked).first()
    if found is None:
        return None
    boxes = msgspec.json.decode(found.body, type=_Body).boxes
    return Claim(since_ms=found.since_ms, others=tuple(box for box in boxes if box != found.box))


def accept_box(connection: Connection, site_no: int, box: str) -> None:
    """Another box speaks for the site from now on, with a record of its own that begins anew.

    What the old one told stays; numbers are counted from the beginning again, and the site is told
    so by the next worker that looks. Its own summary tells the alarms that stand.
    """
    connection.execute(update(sites).where(sites.c.site_no == site_no).values(box=box, newest="{}"))
    connection.execute(
        update(held)
        .where(held.c.site_no == site_no)
        .values(spans="[]", up_to=0, highest=0, version=0, era=held.c.era + 1)
    )
    here = lines.c.site_no == site_no
    anew = {"reading_seq": 0, "draw_seq": 0, "newest": "{}"}
    connection.execute(update(lines).where(here).values(anew))
    connection.execute(delete(alarms).where(alarms.c.site_no == site_no))
    keep_box(connection, site_no)


def keep_box(connection: Connection, site_no: int) -> None:
    """The box that spoke first stays the one that is heard; the doubt is settled."""
    settled = (doubts.c.site_no == site_no) & (doubts.c.doubt == TWO_BOXES)
    connection.execute(delete(doubts).where(settled))
