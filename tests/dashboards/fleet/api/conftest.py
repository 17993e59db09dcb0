"""One small fleet for all questions, on either database, and one of its own for acts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.asking import Asking
from tests.postgres import LOOSE, postgres
from tests.two_customers import Fleet, two_customers


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Fleet]:
    """Only asked, never changed."""
    with two_customers(tmp_path_factory.mktemp("fleet")) as found:
        yield found


@pytest.fixture(scope="session")
def client(fleet: Fleet) -> Iterator[Asking]:
    """Who asks it."""
    with Asking(fleet.app) as found:
        yield found


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def either_fleet(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Fleet]:
    """The same on each database."""
    folder = tmp_path_factory.mktemp("either")
    if request.param == "sqlite":
        with two_customers(folder) as found:
            yield found
        return
    with postgres(*LOOSE) as server, two_customers(folder, server.new_database()) as found:
        yield found


@pytest.fixture(scope="module")
def either_client(either_fleet: Fleet) -> Iterator[Asking]:
    """Who asks it."""
    with Asking(either_fleet.app) as found:
        yield found


@pytest.fixture
def own_fleet(tmp_path: Path) -> Iterator[Fleet]:
    """A fleet to change."""
    with two_customers(tmp_path, sites_each=1) as found:
        yield found
