"""Where no opening hours are stated, habit and endless flow tell a rest day and a leak."""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.samples import Floats, Ints
from analytics.setup import ALWAYS_OPEN, LineSetup
from tests.alarm_rows import between, journal, minutes, shop

Columns = dict[str, Ints | Floats]


def no_hours() -> LineSetup:
    """The line of a shop whose hours nobody stated."""
    return msgspec.structs.replace(shop(), opening=ALWAYS_OPEN)


def codes(days: float, *still: tuple[float, float], trickle: float | None = None) -> list[str]:
    """Codes found at the end of these days; no flow in `still` hours, a trickle from an hour on."""

    def change(columns: Columns) -> None:
        for first, last in still:
            columns["pulses"][between(columns, first, last)] = 0
        if trickle is not None:
            after = between(columns, trickle, 24.0 * days)
            columns["pulses"][after] = np.maximum(columns["pulses"][after], 20)

    watch, _ = journal(no_hours(), minutes(days, change))
    return [finding.code for finding in watch.diagnosis.findings]


def test_a_weekly_day_of_rest_is_no_shut_valve() -> None:
    """The second Sunday without flow is a habit; a Monday without flow is not."""
    sundays = ((6 * 24.0, 7 * 24.0), (13 * 24.0, 14 * 24.0))

    assert "no-flow" not in codes(13.8, *sundays)
    assert "no-flow" not in codes(14.2, *sundays)
    assert "no-flow" in codes(14.99, *sundays, (14 * 24.0, 15 * 24.0))


def test_flow_without_a_pause_is_a_leak_and_no_fault_of_the_meter() -> None:
    """Sixteen hours without a quarter's pause; it ends with the first pause."""
    assert "leak" in codes(9.9, trickle=8 * 24.0)
    assert "pulses-lost" not in codes(11.9, trickle=8 * 24.0)
    assert "leak" not in codes(8.5, trickle=8 * 24.0)
