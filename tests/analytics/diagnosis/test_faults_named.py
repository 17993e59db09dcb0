"""Stretches with a fault each, and healthy ones: the short form of `tests.bench diagnosis`."""

from __future__ import annotations

import pytest

from tests.bench.diagnosis import confusion
from tests.faulty.kinds import KINDS

FEW = 12


@pytest.mark.timeout(900)
def test_most_faults_are_named_and_healthy_lines_are_left_alone() -> None:
    """Of the first dozen kinds one may be missed; a healthy cafe has no fault."""
    found = confusion(FEW, seed=11)
    faulted = [s for s in found.said if s.fault]

    assert len(faulted) == sum(bool(kind.name) for kind in KINDS[:FEW])
    assert sum(s.right for s in faulted) >= len(faulted) - 1, found.text()
    assert found.false_a_month == 0.0, found.text()
