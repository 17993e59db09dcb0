"""Messages that made no sense, kept with the reason; bounded, so that nobody fills the disk."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import delete, func, insert, select
from sqlalchemy.engine import Connection

from firmware_bridge.fleet.ingest.messages import NEWER, Refused
from firmware_bridge.fleet.records.tables import aside
from firmware_bridge.receiver.keeping import LONGEST_ASIDE, MOST_ASIDE

MOST_OF_A_SITE = 200
"""The newest so many of one site; it cannot push out those of others."""


def put_aside(connection: Connection, refused: Iterable[Refused], now_ms: int) -> None:
    """Keep what was refused; the oldest beyond the bounds go."""
    rows = [_row(each, now_ms) for each in refused]
    if not rows:
        return
    connection.execute(insert(aside), rows)
    for site in {row["site"] for row in rows}:
        of_site = select(aside.c.aside_no).where(aside.c.site == site)
        oldest = of_site.order_by(aside.c.aside_no.desc()).offset(MOST_OF_A_SITE).limit(1)
        _forget_up_to(connection, connection.scalar(oldest), site)
    newest = connection.scalar(select(func.max(aside.c.aside_no)))
    _forget_up_to(connection, (newest or 0) - MOST_ASIDE)


def _forget_up_to(connection: Connection, number: int | None, site: str | None = None) -> None:
    if number is not None and number > 0:
        old = delete(aside).where(aside.c.aside_no <= number)
        connection.execute(old if site is None else old.where(aside.c.site == site))


def _row(refused: Refused, now_ms: int) -> dict[str, Any]:
    """A newer version's message is kept whole: this program may understand it one day."""
    whole = refused.reason.startswith(NEWER)
    return {
        "at_ms": now_ms,
        "site": refused.site.replace("\0", ""),
        "topic": refused.topic,
        "reason": refused.reason[:500].replace("\0", ""),
        "payload": refused.payload if whole else refused.payload[:LONGEST_ASIDE],
    }
