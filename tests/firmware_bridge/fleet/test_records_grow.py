"""Records of an older program are brought up to date; those of a newer one are left alone."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from analytics.errors import StoreError
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import open_records
from firmware_bridge.fleet.records.tables import lines
from tests.firmware_bridge.fleet.sites_speak import PREFIX, all_of, kept, said
from tests.firmware_bridge.forward.outbox import START_MS, readings

TAKEN_AWAY = (
    "ALTER TABLE lines DROP COLUMN draw_seq",
    "ALTER TABLE lines DROP COLUMN size",
    "DROP INDEX chunks_by_number",
    "UPDATE marks SET value = 'older' WHERE mark = 'columns'",
)


def test_missing_columns_are_added_with_their_defaults(records_url: str) -> None:
    """What was there stays, and work goes on."""
    with open_records(records_url) as records:
        Keeper(records, PREFIX, adopt_newcomers=True).take(said(readings(1, 5)), START_MS)
        with records.begin() as connection:
            for statement in TAKEN_AWAY:
                connection.execute(text(statement))
    with open_records(records_url) as records:
        (line,) = all_of(records, lines)
        assert (line["draw_seq"], line["size"]) == (0, "")
        Keeper(records, PREFIX, adopt_newcomers=True).take(said(readings(6, 9)), START_MS)
        assert sorted(kept(records)) == list(range(1, 10))


def test_records_of_a_newer_program_are_not_touched(records_url: str) -> None:
    """It is said that they are, and what to do."""
    with open_records(records_url) as records, records.begin() as connection:
        records.set_mark(connection, "format", "99")
    with pytest.raises(StoreError, match="format 99") as caught:
        open_records(records_url)
    assert "newer version" in caught.value.hint
