"""The logbook's chain: what is changed afterwards shows."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from analytics.samples import BypassSet, Note
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.chain import digest_of, verify_chain
from firmware_bridge.store.database import Store
from firmware_bridge.store.migrations import MIGRATIONS
from firmware_bridge.store.reader import Reader
from firmware_bridge.store.schema import migrate

SITE = "harbour-steps"


def write(path: Path, count: int) -> None:
    """So many notes, two to a commit."""
    with Store.open(path, site_id=SITE) as store:
        for n in range(0, count, 2):
            events = tuple(
                Note(at_ms=n + i, line_id="bar", event_id=f"n{n + i}", note=f"note {n + i}")
                for i in range(2)
            )
            store.submit(Batch(events=events)).result(20)


def changed(path: Path, statement: str) -> int:
    """The number at which the chain breaks after somebody has changed the file."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
        connection.commit()
    with closing(Reader(path)) as reader:
        return verify_chain(reader.logbook()).broken_at


def test_chain_over_commits_and_restarts_is_whole(tmp_path: Path) -> None:
    """Each digest is over the body and the digest before; the head is the last."""
    path = tmp_path / "a.db"
    write(path, 4)
    with Store.open(path, site_id=SITE) as store:
        store.submit(Batch(events=(BypassSet(at_ms=9, share=0.3, line_id="bar"),))).result(20)
    with closing(Reader(path)) as reader:
        entries = reader.logbook()
    chain = verify_chain(entries)

    assert (chain.entries, chain.broken_at) == (5, 0)
    assert chain.head == entries[-1].digest
    assert entries[0].digest == digest_of("", entries[0].body)
    assert entries[1].digest == digest_of(entries[0].digest, entries[1].body)


@pytest.mark.parametrize(
    ("statement", "broken_at"),
    [
        ("UPDATE events SET body = replace(body, 'note 2', 'note X') WHERE seq = 3", 3),
        ("UPDATE events SET body = replace(body, '\"at_ms\":2', '\"at_ms\":1') WHERE seq = 3", 3),
        ("DELETE FROM events WHERE seq = 3", 4),
        ("UPDATE events SET digest = NULL WHERE seq = 3", 3),
        ("UPDATE events SET seq = 99 WHERE seq = 3", 4),
    ],
)
def test_whatever_is_changed_shows(tmp_path: Path, statement: str, broken_at: int) -> None:
    """A word, a date, an entry taken out, its digest, its place."""
    path = tmp_path / "a.db"
    write(path, 6)

    assert changed(path, statement) == broken_at


def test_rewriting_all_after_it_changes_the_head(tmp_path: Path) -> None:
    """Whoever rewrites every later digest ends with another head than the one that was sent."""
    path = tmp_path / "a.db"
    write(path, 6)
    with closing(Reader(path)) as reader:
        entries, head = reader.logbook(), verify_chain(reader.logbook()).head
    before = ""
    for entry in entries:
        before = digest_of(before, entry.body.replace("note 2", "note X"))

    assert before != head


def test_entries_of_before_the_chain_stand_before_it(tmp_path: Path) -> None:
    """A file of the format before is brought on; its entries have no digest, later ones do."""
    path = tmp_path / "a.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        migrate(connection, MIGRATIONS[:3])
        connection.execute(
            "INSERT INTO site (only_row, site_id, program, newest_seq) VALUES (1, ?, '0', 1)",
            (SITE,),
        )
        body = '{"kind":"note","at_ms":1,"event_id":"old","note":"before"}'
        connection.execute(
            "INSERT INTO events (seq, event_id, kind, line_id, at_ms, known_at_ms, body) "
            "VALUES (1, 'old', 'note', '', 1, 1, ?)",
            (body,),
        )
    write(path, 2)
    with closing(Reader(path)) as reader:
        chain = verify_chain(reader.logbook())

    assert (chain.entries, chain.broken_at) == (2, 0)


def test_digest_goes_to_the_sinks_with_the_entry(tmp_path: Path) -> None:
    """So that a later change shows from outside the file."""
    path = tmp_path / "a.db"
    write(path, 2)
    with Store.open(path, site_id=SITE) as store:
        digests = [row.words["digest"] for row in store.outbox.read(0, 10)]
        entries = store.reader().logbook()

    assert digests == [entry.digest for entry in entries]
