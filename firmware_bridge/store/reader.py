"""Reading the site's file: a connection that cannot write and never waits for the writer.

Every question is answered from one state of the file, whatever is written meanwhile.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from analytics.errors import StoreDamaged, StoreError
from analytics.samples import HOUR_MS, AnyEvent, Draws, Estimate, Ints, Rows
from firmware_bridge.store import (
    alarms,
    boots,
    counters,
    cursors,
    draws,
    estimates,
    events,
    notices,
    rows,
    series,
    snapshots,
)
from firmware_bridge.store.alarms import KnownChange
from firmware_bridge.store.boots import KnownBoot
from firmware_bridge.store.chain import Entry
from firmware_bridge.store.cursors import Rejected
from firmware_bridge.store.draws import DrawSums
from firmware_bridge.store.events import FAR_MS, KnownEvent
from firmware_bridge.store.faults import in_our_words, translated
from firmware_bridge.store.schema import check_ours
from firmware_bridge.store.series import Series


def open_to_read(path: Path) -> sqlite3.Connection:
    """A connection that cannot write; raises StoreDamaged for a file that is not one of ours."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        connection.execute("PRAGMA query_only = ON")
        connection.execute("PRAGMA cache_size = -512")
        check_ours(connection)
    except BaseException:
        connection.close()
        raise
    return connection


class Reader:
    """Answers questions about the site; it works beside a daemon and without one.

    Threads may share it, one at a time gets its answer. Close it when done.
    """

    def __init__(self, path: Path, damaged: Callable[[StoreDamaged], None] | None = None) -> None:
        """Open the file at `path`; raises StoreError where there is none, or not one of ours.

        `damaged` is told where what was asked for turns out not to be whole.
        """
        self.path = path
        self._path = path
        self._damaged = damaged
        self._one_at_a_time = threading.Lock()
        with in_our_words(path):
            self._connection = open_to_read(path)
        self.closed = False

    @contextmanager
    def at_one_moment(self) -> Iterator[sqlite3.Connection]:
        """The connection, inside one transaction that sees one state of the file."""
        with self._one_at_a_time, in_our_words(self._path):
            if self.closed:
                raise StoreError(f"{self._path}: this reader is closed", "Ask for a new one.")
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            except StoreDamaged as fault:
                self._tell(fault)
                raise
            except sqlite3.DatabaseError as exc:
                self._tell(translated(exc, self._path))
                raise
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def _tell(self, fault: StoreError) -> None:
        if self._damaged is not None and isinstance(fault, StoreDamaged):
            self._damaged(fault)

    def close(self) -> None:
        """Close the connection; doing it twice does no harm."""
        with self._one_at_a_time:
            self.closed = True
            self._connection.close()

    def lines(self) -> tuple[str, ...]:
        """The lines that have readings, by name."""
        with self.at_one_moment() as connection:
            return rows.lines(connection)

    def span(self, line_id: str) -> tuple[int, int] | None:
        """The instants of the line's first and last row; None without rows."""
        with self.at_one_moment() as connection:
            return rows.span(connection, line_id)

    def rows_from_ms(self, line_id: str) -> int:
        """Rows of the line before this instant are kept by the minute at most; 0: all are there."""
        with self.at_one_moment() as connection:
            return rows.rows_from_ms(connection, line_id)

    def rows(self, line_id: str, from_ms: int, to_ms: int) -> Rows:
        """Rows of the line in [from_ms, to_ms), in order of time."""
        with self.at_one_moment() as connection:
            return rows.rows_of(connection, line_id, from_ms, to_ms)

    def rows_by_hour(self, line_id: str, from_ms: int, to_ms: int) -> Iterator[Rows]:
        """The same, an hour at a time, for spans too long to hold; hours without rows are left out.

        Each hour is read from one state of the file, the whole is not.
        """
        hour, last = from_ms // HOUR_MS, (to_ms - 1) // HOUR_MS
        while True:
            with self.at_one_moment() as connection:
                found = rows.next_hour(connection, line_id, hour, last)
            if found is None:
                return
            hour = found[0] + 1
            yield rows.cut_to(found[1], from_ms, to_ms)

    def series(self, line_id: str, channel: str, from_ms: int, to_ms: int, points: int) -> Series:
        """A channel in [from_ms, to_ms) as at most `points` spans with lowest, mean, highest."""
        with self.at_one_moment() as connection:
            return series.series_of(connection, line_id, channel, from_ms, to_ms, points)

    def pulses_by_hour(self, line_id: str, from_ms: int, to_ms: int) -> tuple[Ints, Ints]:
        """Pulses of every hour that begins in [from_ms, to_ms): (the hours' beginnings, pulses)."""
        with self.at_one_moment() as connection:
            return series.pulses_by_hour(connection, line_id, from_ms, to_ms)

    def draws(
        self, line_id: str, from_ms: int, to_ms: int, cartridge_id: str | None = None
    ) -> Draws:
        """Draws of the line (and cartridge) that begin in [from_ms, to_ms)."""
        with self.at_one_moment() as connection:
            return draws.draws_of(connection, line_id, from_ms, to_ms, cartridge_id)

    def draw_sums(self, line_id: str, from_ms: int, to_ms: int, width_ms: int) -> DrawSums:
        """Draws that begin in [from_ms, to_ms) by spans of `width_ms` counted from 1970."""
        with self.at_one_moment() as connection:
            return draws.sums_of(connection, line_id, from_ms, to_ms, width_ms)

    def latest_estimate(self, line_id: str) -> Estimate | None:
        """The estimate as it is known now; None where there is none."""
        with self.at_one_moment() as connection:
            return estimates.latest(connection, line_id)

    def estimates(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Estimates for instants in [from_ms, to_ms) as they are known now."""
        with self.at_one_moment() as connection:
            return estimates.current(connection, line_id, from_ms, to_ms)

    def estimates_sampled(
        self, line_id: str, from_ms: int, to_ms: int, width_ms: int
    ) -> list[Estimate]:
        """The last estimate of every span of `width_ms` in [from_ms, to_ms), as known now."""
        with self.at_one_moment() as connection:
            return estimates.sampled(connection, line_id, from_ms, to_ms, width_ms)

    def estimates_as_stored(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Every estimate for instants in [from_ms, to_ms), revised ones too, as stored."""
        with self.at_one_moment() as connection:
            return estimates.as_stored(connection, line_id, from_ms, to_ms)

    def estimate_as_known(self, line_id: str, at_ms: int, known_at_ms: int) -> Estimate | None:
        """What was known at `known_at_ms` about how things stood at `at_ms`."""
        with self.at_one_moment() as connection:
            return estimates.as_known(connection, line_id, at_ms, known_at_ms)

    def events(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[AnyEvent]:
        """Events that hold (not withdrawn), of the line and of the whole site, by date."""
        known = self.event_history(line_id, from_ms, to_ms)
        return [entry.event for entry in known if not entry.withdrawn]

    def event_history(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[KnownEvent]:
        """All events, withdrawn ones too, each with its number."""
        with self.at_one_moment() as connection:
            return events.events_of(connection, line_id, from_ms, to_ms)

    def logbook(self, newest: int | None = None) -> list[Entry]:
        """Entries in the order they were written, each with its digest: all, or the newest."""
        with self.at_one_moment() as connection:
            return events.entries_of(connection, newest)

    def entry(self, event_id: str) -> Entry | None:
        """The logbook's entry of this id; None where there is none."""
        with self.at_one_moment() as connection:
            return events.entry_of(connection, event_id)

    def event_known(self, event_id: str) -> bool:
        """Whether an event of this id is stored."""
        with self.at_one_moment() as connection:
            return events.is_known(connection, event_id)

    def alarm_changes(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[KnownChange]:
        """Changes of alarms at instants in [from_ms, to_ms), in the order they were stored."""
        with self.at_one_moment() as connection:
            return alarms.changes_of(connection, line_id, from_ms, to_ms)

    def alarm_changes_after(self, seq: int) -> list[KnownChange]:
        """Changes of alarms numbered above `seq`, in the order they were stored."""
        with self.at_one_moment() as connection:
            return alarms.changes_after(connection, seq)

    def notices(self, notifier: str) -> dict[str, int]:
        """What a notifier is done with: the keys of its notices and when each was sent."""
        with self.at_one_moment() as connection:
            return notices.sent_by(connection, notifier)

    def snapshot_before(self, line_id: str, at_ms: int) -> tuple[int, bytes] | None:
        """The newest snapshot at or before an instant: (its instant, the bytes given in)."""
        with self.at_one_moment() as connection:
            return snapshots.before(connection, line_id, at_ms)

    def counters(self) -> dict[str, int]:
        """Everything that was refused, lost or doubled so far, by name."""
        with self.at_one_moment() as connection:
            return counters.all_counters(connection)

    def confirmed(self, boot_id: int) -> int | None:
        """The highest frame number of a boot without a gap before it; None: boot not known."""
        with self.at_one_moment() as connection:
            return boots.confirmed(connection, boot_id)

    def boots(self) -> list[KnownBoot]:
        """Every boot the site has rows of, in the order they were first seen."""
        with self.at_one_moment() as connection:
            return boots.all_boots(connection)

    def rejected(self, sink: str) -> list[Rejected]:
        """Rows a sink refused, with its reasons."""
        with self.at_one_moment() as connection:
            return cursors.rejected_by(connection, sink)

    def rejected_counts(self) -> dict[str, int]:
        """How many rows every sink refused so far."""
        with self.at_one_moment() as connection:
            return cursors.rejected_counts(connection)

    def cursors(self) -> dict[str, int]:
        """The number every sink is done with, by the sink's name."""
        with self.at_one_moment() as connection:
            return cursors.all_cursors(connection)

    def newest(self) -> int:
        """The highest number given so far; 0 when nothing was stored yet."""
        with self.at_one_moment() as connection:
            return cursors.newest(connection)
