"""A stocked fleet for the tests of its pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.dashboards.fleet.stocked import Stock, stock


@pytest.fixture
def fleet(tmp_path: Path) -> Iterator[Stock]:
    """Records with people of every role and two customers, but no site."""
    with stock(tmp_path) as found:
        yield found
