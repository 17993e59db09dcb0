"""Records in a SQLite file and in a real PostgreSQL: each test runs on both."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware_bridge.fleet.records.engine import Records, open_records
from tests.postgres import LOOSE, Postgres, postgres


@pytest.fixture(scope="session")
def database() -> Iterator[Postgres]:
    """One PostgreSQL for all tests of this folder."""
    with postgres(*LOOSE) as server:
        yield server


@pytest.fixture(scope="session")
def own_database() -> Iterator[Postgres]:
    """A PostgreSQL that tests may kill."""
    with postgres(*LOOSE) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def records_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of empty records."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'fleet.sqlite'}"
        return
    server: Postgres = request.getfixturevalue("database")
    url = server.new_database()
    yield url
    server.drop(url)


@pytest.fixture
def records(records_url: str) -> Iterator[Records]:
    """Empty records, opened."""
    with open_records(records_url) as opened:
        yield opened
