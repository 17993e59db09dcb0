"""The records, opened: one SQLite file, or a PostgreSQL database, by the same statements.

    with open_records(url) as records:
        with records.begin() as connection: ...   what is done in here is done whole or not at all
        with records.read() as connection: ...    one view of everything

What is committed is on the disk: SQLite with `synchronous = FULL`, PostgreSQL with
`synchronous_commit = on`. Errors of the database come out as StoreError.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

import msgspec
from sqlalchemy import (
    JSON,
    ColumnElement,
    Engine,
    FromClause,
    Table,
    Text,
    bindparam,
    cast,
    column,
    create_engine,
    event,
    func,
    make_url,
    select,
    text,
)
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from analytics.errors import StoreError, StoreFailing
from firmware_bridge.fleet.records.making import make_tables
from firmware_bridge.fleet.records.tables import marks
from firmware_bridge.secrets import Secret
from firmware_bridge.store.faults import translated

PATIENCE_S = 20.0
"""How long a writer waits for its turn in a SQLite file."""

MAKING = 0x4C4C666C
WRITING = 0x4C4C6377
"""Advisory locks of PostgreSQL: who makes the tables; who writes chunks (shared)."""


class Records:
    """The records at work; any thread may use them."""

    def __init__(self, url: str, password: Secret = Secret("")) -> None:  # noqa: B008
        """Open the records and make what tables are missing; raises StoreError."""
        where = make_url(url)
        self.where = where.render_as_string(hide_password=True)
        self.is_sqlite = where.get_backend_name() == "sqlite"
        self.engine = _engine(where.set(password=str(password)) if password else where)
        self._driver_error: type[Exception] = self.engine.dialect.loaded_dbapi.Error
        self._path = Path(where.database or "") if self.is_sqlite else None
        if self._path is not None:
            _folder_of(self._path)
        self._writing = self.engine.execution_options(writes=True)
        try:
            self._make()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the connections back."""
        self.engine.dispose()

    @contextmanager
    def begin(self) -> Iterator[Connection]:
        """Change something, whole or not at all; raises StoreError, and nothing was changed."""
        with self._in_our_words(), self._writing.begin() as connection:
            yield connection

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Look at one state of everything; raises StoreError."""
        with self._in_our_words(), self.engine.begin() as connection:
            yield connection

    def among(self, of: ColumnElement[Any], values: Iterable[int]) -> ColumnElement[bool]:
        """Whether a column of whole numbers is one of `values`, however many these are."""
        return self._among(of, list(values), postgresql.BIGINT())

    def among_texts(self, of: ColumnElement[Any], values: Iterable[str]) -> ColumnElement[bool]:
        """Whether a column of texts is one of `values`, however many these are."""
        return self._among(of, list(values), postgresql.TEXT())

    def upsert(self, table: Table, key: tuple[str, ...], changes: tuple[str, ...] = ()) -> Any:
        """An insert that changes the row that is there already, or leaves it without `changes`."""
        made: Any = (sqlite if self.is_sqlite else postgresql).insert(table)
        if not changes:
            return made.on_conflict_do_nothing(index_elements=list(key))
        new = {name: made.excluded[name] for name in changes}
        return made.on_conflict_do_update(index_elements=list(key), set_=new)

    def given(self, rows: Sequence[Mapping[str, Any]], **columns: Any) -> FromClause:
        """Rows of our own as a table in a statement: one round trip, however many they are.

        `columns` are the names with their types of SQLAlchemy.
        """
        text_ = bindparam(None, msgspec.json.encode(rows).decode(), type_=Text)
        if self.is_sqlite:
            parts = func.json_each(text_).table_valued("value")
            each: Any = [
                func.json_extract(parts.c.value, f"$.{name}", type_=kind).label(name)
                for name, kind in columns.items()
            ]
            return select(*each).subquery("given")
        named = [column(name, kind) for name, kind in columns.items()]
        made = func.json_to_recordset(cast(text_, JSON)).table_valued(*named, name="given")
        return made.render_derived(with_types=True)

    def load(self, connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
        """Many rows into a table in the quickest way; all of them have the same columns."""
        if not rows:
            return
        names = list(rows[0])
        values = [tuple(row.values()) for row in rows]
        listed = ", ".join(f'"{name}"' for name in names)
        if self.is_sqlite:
            marks_ = ", ".join("?" for _ in names)
            made = f'INSERT INTO "{table.name}" ({listed}) VALUES ({marks_})'
            connection.exec_driver_sql(made, values)
            return
        driver: Any = connection.connection.driver_connection
        into = f'COPY "{table.name}" ({listed}) FROM STDIN'
        with driver.cursor() as cursor, cursor.copy(into) as copy:
            for value in values:
                copy.write_row(value)

    def mark(self, connection: Connection, name: str) -> str:
        """A small thing that was remembered; empty where it was not."""
        return connection.scalar(select(marks.c.value).where(marks.c.mark == name)) or ""

    def set_mark(self, connection: Connection, name: str, value: str) -> None:
        """Remember a small thing."""
        connection.execute(
            self.upsert(marks, ("mark",), ("value",)), {"mark": name, "value": value}
        )

    def writes_chunks(self, connection: Connection) -> None:
        """Said before chunks are written, so that who follows them can wait for us."""
        if not self.is_sqlite:
            connection.execute(text(f"SELECT pg_advisory_xact_lock_shared({WRITING})"))

    def settle_chunks(self) -> None:
        """Wait for everybody who is writing chunks now: numbers given so far are all visible then.

        A database gives out numbers before it commits, so the highest number to be seen does not
        mean that those below it are there already. SQLite has one writer at a time.
        """
        if not self.is_sqlite:
            with self.begin() as connection:
                connection.execute(text(f"SELECT pg_advisory_xact_lock({WRITING})"))

    @contextmanager
    def sole(self, what: str) -> Iterator[bool]:
        """Whether we are the only ones at this work among all processes, until the end.

        A SQLite file is for one machine, where the process that shows the pages does it.
        """
        if self.is_sqlite:
            yield True
            return
        number = zlib.crc32(what.encode())
        with self._in_our_words(), self.engine.connect() as connection:
            options = connection.execution_options(isolation_level="AUTOCOMMIT")
            ours = bool(options.scalar(text(f"SELECT pg_try_advisory_lock({number})")))
            try:
                yield ours
            finally:
                if ours:
                    options.execute(text(f"SELECT pg_advisory_unlock({number})"))

    def _among(self, of: ColumnElement[Any], values: list[Any], kind: Any) -> ColumnElement[bool]:
        if self.is_sqlite:
            given: Any = bindparam(None, msgspec.json.encode(values).decode())
            parts = func.json_each(given).table_valued("value")
            return of.in_(select(parts.c.value))
        given = bindparam(None, values, type_=postgresql.ARRAY(kind))
        return of == func.any(given)

    def _make(self) -> None:
        with self.begin() as connection:
            if not self.is_sqlite:
                connection.execute(text(f"SELECT pg_advisory_xact_lock({MAKING})"))
            for mark, value in make_tables(connection, self.where).items():
                self.set_mark(connection, mark, value)

    @contextmanager
    def _in_our_words(self) -> Iterator[None]:
        try:
            yield
        except (SQLAlchemyError, self._driver_error) as exc:
            raise self._translated(exc) from exc

    def _translated(self, exc: Exception) -> StoreError:
        cause = None if isinstance(exc, SQLAlchemyError) else exc
        if isinstance(exc, DBAPIError):
            cause = exc.orig
        if isinstance(cause, sqlite3.Error) and self._path is not None:
            return translated(cause, self._path)
        said = " ".join(str(cause or exc).split())[:300]
        if cause is not None and _passes(cause):
            return StoreFailing(
                f"{self.where} does not answer: {said}",
                "See that the database runs; it is tried again.",
            )
        return StoreError(f"{self.where}: {said}", "See the database's log.")


def open_records(url: str, password: Secret = Secret("")) -> Records:  # noqa: B008
    """The records at a URL; raises StoreError."""
    return Records(url, password)


def _passes(cause: BaseException) -> bool:
    """Whether the same may work a moment later: the connection, a lock, want of room."""
    state = str(getattr(cause, "sqlstate", None) or "")
    return not state or state[:2] in ("08", "40", "53", "55", "57", "58", "XX")


def _folder_of(path: Path) -> None:
    if not path.parent.is_dir():
        raise StoreError(f"{path}: there is no folder {path.parent}", "Make the folder first.")


def _engine(url: Any) -> Engine:
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": PATIENCE_S})
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    # compiling a statement costs more than any of ours takes
    more = {"connect_timeout": 10, "options": "-c synchronous_commit=on -c timezone=UTC -c jit=off"}
    return create_engine(url, pool_pre_ping=True, connect_args=more)


def _set_up_sqlite(connection: Any, _: object) -> None:
    connection.isolation_level = None  # transactions begin where `_begin_sqlite` says
    for pragma in (
        "journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "cache_size = -65536",
        "wal_autocheckpoint = 4000",
    ):  # fmt: skip
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
