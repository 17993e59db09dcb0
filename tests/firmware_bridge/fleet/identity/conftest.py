"""Records in a file of their own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine

from firmware_bridge.fleet.records.tables import metadata, people


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Connection]:
    """A connection within a transaction; person 1 is an owner."""
    engine = create_engine(f"sqlite:///{tmp_path / 'fleet.sqlite'}")
    metadata.create_all(engine)
    with engine.begin() as connection:
        connection.execute(people.insert().values(login="ada", role="owner", made_ms=0))
        yield connection
    engine.dispose()
