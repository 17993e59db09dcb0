"""What workers look up to answer sites: who is adopted, how far each is safe, what is missing."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import select
from sqlalchemy.engine import Connection

from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import held, sites
from firmware_bridge.receiver.spans import Pair, Spans

SPANS_ASKED = 50

_pairs = msgspec.json.Decoder(list[Pair])


def adopted_sites(connection: Connection) -> list[tuple[str, int]]:
    """Every adopted site with the number up to which all is held."""
    asked = select(sites.c.site, held.c.up_to).join(held).where(sites.c.state == "adopted")
    return [(site, up_to) for site, up_to in connection.execute(asked)]


def safe_up_to(records: Records, connection: Connection, names: Sequence[str]) -> dict[str, int]:
    """Up to which number everything is held of each of these sites."""
    where = records.among_texts(sites.c.site, names)
    asked = select(sites.c.site, held.c.up_to).join(held).where(where)
    return {row.site: row.up_to for row in connection.execute(asked)}


def newly_adopted(connection: Connection) -> list[str]:
    """Adopted sites that have no rows here yet: they wait for the first word."""
    asked = select(sites.c.site).join(held).where(sites.c.state == "adopted", held.c.version == 0)
    return list(connection.scalars(asked))


def still_missing(
    records: Records, connection: Connection, names: Sequence[str]
) -> dict[str, list[Pair]]:
    """The first gaps of these sites as they are now; another worker may have filled some."""
    if not names:
        return {}
    where = records.among_texts(sites.c.site, names)
    asked = select(sites.c.site, held.c.spans, sites.c.state).join(held).where(where)
    return {
        site: Spans(_pairs.decode(spans)).missing(SPANS_ASKED) if state == "adopted" else []
        for site, spans, state in connection.execute(asked)
    }
