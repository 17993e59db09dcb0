"""Every check value is met within its tolerance; `tests/check_values` holds the sources."""

from __future__ import annotations

import pytest

from tests.check_values.checks import Check, Kind
from tests.check_values.table import every_check, markdown

CHECKS = every_check()


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: f"{c.group}: {c.what}")
def test_number_is_met(check: Check) -> None:
    """Our number lies within the tolerance recommended for it."""
    assert abs(check.deviation()) <= check.allowed, (
        f"{check.what}: {check.ours():.7g}, expected {check.expected:.7g} ({check.source})"
    )


def test_every_check_names_its_source() -> None:
    """No number stands without a source, and a formula's or engine's number says which."""
    assert all(check.source and check.group for check in CHECKS)
    assert {check.kind for check in CHECKS} >= {Kind.PUBLISHED, Kind.COMPUTED, Kind.MEMORY}


def test_a_wrong_number_would_be_caught() -> None:
    """A value moved by twice its tolerance is outside it."""
    check = next(c for c in CHECKS if c.relative)
    moved = Check(**{**vars(check), "expected": check.expected * (1 + 3 * check.tolerance)})

    assert moved.used() > 1


def test_the_table_shows_every_group_and_counts_every_value() -> None:
    """The Markdown has one line a group, and its counts add up to all values."""
    lines = [line for line in markdown().splitlines() if line.startswith("| ")]
    counts = [line.split(" | ")[1] for line in lines]

    assert sum(int(count) for count in counts if count.isdigit()) == len(CHECKS)
    assert all("nan" not in line for line in lines)
