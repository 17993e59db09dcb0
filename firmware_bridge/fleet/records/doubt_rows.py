"""Sites whose data contradict themselves, as ingest found them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
from sqlalchemy import Connection, select

from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import aside, doubts, sites


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """One contradiction; `line` "" is the whole site. `body` has figures of it (JSON)."""

    site_no: int
    site: str
    name: str
    line: str
    doubt: str
    since_ms: int
    body: str

    @property
    def called(self) -> str:
        """Its site's name."""
        return self.name or self.site


class PutAside(msgspec.Struct, frozen=True, kw_only=True):
    """A message that made no sense, without its payload."""

    aside_no: int
    at_ms: int
    site: str
    topic: str
    reason: str


def all_doubts(connection: Connection, sight: Sight, most: int) -> list[Doubt]:
    """Doubts of adopted sites, those that have stood longest first."""
    asked = (
        select(doubts, sites.c.site, sites.c.name)
        .join(sites, sites.c.site_no == doubts.c.site_no)
        .where(sight.covers(), sites.c.state == "adopted")
        .order_by(doubts.c.since_ms, sites.c.site_no, doubts.c.line, doubts.c.doubt)
        .limit(most)
    )
    return [as_struct(Doubt, row) for row in connection.execute(asked).mappings()]


def silent(
    connection: Connection, sight: Sight, heard_by_ms: int, most: int
) -> list[Mapping[Any, Any]]:
    """Adopted sites not heard since an instant, the longest silent first: site, name, heard_ms."""
    asked = (
        select(sites.c.site_no, sites.c.site, sites.c.name, sites.c.heard_ms)
        .where(
            sight.covers(),
            sites.c.state == "adopted",
            (sites.c.heard_ms < heard_by_ms) | sites.c.heard_ms.is_(None),
        )
        .order_by(sites.c.heard_ms, sites.c.site_no)
        .limit(most)
    )
    return [dict(row) for row in connection.execute(asked).mappings()]


def put_aside(connection: Connection, most: int) -> list[PutAside]:
    """The newest messages that made no sense."""
    columns = [aside.c[name] for name in PutAside.__struct_fields__]
    asked = select(*columns).order_by(aside.c.aside_no.desc()).limit(most)
    return [as_struct(PutAside, row) for row in connection.execute(asked).mappings()]
