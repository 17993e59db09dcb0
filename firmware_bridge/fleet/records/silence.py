"""Sites that say nothing: their newest figures are old, however good they look."""

from __future__ import annotations

from sqlalchemy import BigInteger, Text, delete, literal, select

from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import doubts, sites

SILENT = "silent"


def note_silence(records: Records, now_ms: int, after_ms: int) -> int:
    """Bring the doubts "silent" in line with when each adopted site was heard; how many there are.

    The clock is ours alone: what a site says of the time does not matter here.
    """
    heard_by = now_ms - after_ms
    with records.begin() as connection:
        quiet = (sites.c.state == "adopted") & (sites.c.heard_ms < heard_by)
        silent = select(sites.c.site_no).where(quiet)
        connection.execute(
            delete(doubts).where(doubts.c.doubt == SILENT, doubts.c.site_no.not_in(silent))
        )
        found = select(
            sites.c.site_no,
            literal("", Text),
            literal(SILENT, Text),
            sites.c.heard_ms.cast(BigInteger),
            literal("{}", Text),
        ).where(quiet)
        columns = ["site_no", "line", "doubt", "since_ms", "body"]
        made = records.upsert(doubts, ("site_no", "line", "doubt"))
        return int(connection.execute(made.from_select(columns, found)).rowcount)
