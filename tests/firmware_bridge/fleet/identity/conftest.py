"""One transaction on records with a person in them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Connection

from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import people


@pytest.fixture
def connection(records: Records) -> Iterator[Connection]:
    """Person 1 is an owner."""
    with records.begin() as found:
        found.execute(people.insert().values(login="ada", role="owner", made_ms=0))
        yield found
