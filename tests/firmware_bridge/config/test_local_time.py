"""The site's clock as plain numbers."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.config.local_time import local_time

NOW = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
ZONES = ("Europe/Berlin", "Australia/Lord_Howe", "Africa/Casablanca", "Asia/Kathmandu", "UTC")
TABLES = {name: local_time(name, NOW) for name in ZONES}


@given(
    name=st.sampled_from(ZONES),
    at_s=st.integers(0, 2_713_910_400),
)
def test_offsets_are_the_zones_own(name: str, at_s: int) -> None:
    """At any instant from 1970 for thirty years ahead the table gives what the zone gives."""
    offset = dt.datetime.fromtimestamp(at_s, zoneinfo.ZoneInfo(name)).utcoffset()

    assert offset is not None
    assert TABLES[name].offset_ms(at_s * 1000) == offset.total_seconds() * 1000


def test_clock_change_is_exact_to_the_second() -> None:
    """Berlin, 29 March 2026: summer time begins at 01:00 UTC."""
    change = 1_774_746_000_000

    assert TABLES["Europe/Berlin"].offset_ms(change - 1) == 3_600_000
    assert TABLES["Europe/Berlin"].offset_ms(change) == 7_200_000


def test_box_without_a_clock_still_looks_far_ahead() -> None:
    """Compiled in 1970, the table still reaches today."""
    table = local_time("Europe/Berlin", dt.datetime(1970, 1, 1, tzinfo=dt.UTC))

    assert table == TABLES["Europe/Berlin"] or table.from_ms[-1] > 2_500_000_000_000


@pytest.mark.parametrize(
    ("name", "hours"), [("Etc/GMT-1", 1.0), ("UTC+05:30", 5.5), ("UTC-03:30", -3.5), ("Etc/GMT", 0)]
)
def test_fixed_offsets_have_no_changes(name: str, hours: float) -> None:
    """A zone named by its offset; in Etc/GMT-1 the sign is turned round."""
    table = local_time(name, NOW)

    assert table.from_ms == (0,)
    assert table.offset_s == (hours * 3600,)
