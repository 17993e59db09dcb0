"""A cell that is shorted for longer than a level is remembered for is no new level."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from analytics.evidence import seen_in
from tests.bench.store import day_of_draws


def test_a_shorted_cell_says_nothing_however_long() -> None:
    """Readings above any tap water's are none; the other probe is heard."""
    draws = day_of_draws(0, np.random.default_rng(1))
    count = len(draws)
    whole = msgspec.structs.replace(
        draws,
        inlet_ec25_us_cm=np.linspace(500.0, 501.0, count),
        outlet_ec25_us_cm=np.full(count, 90_000.0),
    )
    seen = seen_in(whole)

    assert math.isnan(seen.outlet)
    assert seen.inlet == pytest.approx(math.log(500.5), abs=0.01)
