"""Shared set-up: hypothesis repeats itself, algebra in one thread, long files first."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import structlog
from hypothesis import HealthCheck, settings

from firmware_bridge.thrift import one_thread_of_algebra

one_thread_of_algebra()

settings.register_profile(
    "house",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("house")


@pytest.fixture(autouse=True)
def logs_as_they_come() -> Iterator[None]:
    """A command that was tried in this process sets its logs up; the next test finds none of it."""
    yield
    structlog.reset_defaults()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put files whose tests may take longest in front, each file's tests in their own order."""
    longest: dict[str, float] = {}
    for item in items:
        limit = item.get_closest_marker("timeout")
        allowed = float(limit.args[0]) if limit and limit.args else 0.0
        longest[item.path.name] = max(longest.get(item.path.name, 0.0), allowed)
    items.sort(key=lambda item: (-longest[item.path.name], str(item.path)))
