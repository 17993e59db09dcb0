"""A device that prints lines: patterns, half lines, long lines, patterns without end."""

from __future__ import annotations

import asyncio
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_bridge.config.fault import Fault
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.readings.numbers import Units
from firmware_bridge.readings.text import LONGEST_LINE, TextDecoder
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.meters.at_work import SITE, at_work, site_with

PATTERN = (
    r"EC=(?P<outlet_conductivity>[\d.,]+) T=(?P<outlet_temperature>-?[\d.,]+)"
    r"(?: N=(?P<flow_count>\d+))?"
)


def meter(port: str, pattern: str = PATTERN, more: str = "") -> str:
    """A meter on this port."""
    head = f'\n[[meter]]\ndriver = "text-lines"\nport = "{port}"\n'
    return f"{head}pattern = '{pattern}'\n{more}\n"


async def test_lines_become_rows_and_strange_lines_are_said() -> None:
    """Values with their unit, a counter as pulses; a line that does not match costs nothing."""
    pair = PtyPair()
    try:
        site = site_with(meter(pair.port, more='conductivity_in = "mS/cm"'))
        async with at_work(site) as rig:
            await rig.until(lambda r: r.health.open, "the port")
            pair.write(b"5571 T=14.9\r\nEC=0.557 T=15,25 N=100\r\n")
            await rig.rows_more(1)
            pair.write(b"Err 7\r\nEC=0.558 T=15.5 N=112\r\n")
            await rig.rows_more(1)

            assert rig.rows.outlet_us_cm.tolist() == pytest.approx([557.0, 558.0])
            assert rig.rows.outlet_temp_c.tolist() == pytest.approx([15.25, 15.5])
            assert rig.rows.pulses.tolist() == [0, 12]
            assert math.isnan(rig.newest("inlet_us_cm"))
            assert "'Err 7'" in rig.health.last_fault
            assert rig.counted("lines_strange") == 2
    finally:
        pair.close()


async def test_a_plug_that_is_pulled_and_put_in_again(tmp_path: object) -> None:
    """The port goes and comes back under its name: said, waited for, read on."""
    pair = PtyPair(tmp_path / "probe")  # type: ignore[operator]
    try:
        async with at_work(site_with(meter(pair.port))) as rig:
            await rig.until(lambda r: r.health.open, "the port")
            pair.write(b"EC=557 T=15\n")
            await rig.rows_more(1)
            pair.pull_out()
            await rig.until(lambda r: r.health.failures >= 2, "failures")
            pair.plug_in()
            failures = rig.health.failures
            while len(rig.rows) < 2 and failures < 1000:
                pair.write(b"EC=558 T=15\n")
                await asyncio.sleep(0.05)
                failures += 1

            assert rig.newest("outlet_us_cm") == 558.0
    finally:
        pair.close()


def test_long_lines_are_passed_over_and_counted() -> None:
    """A line without end fills no memory, and the next one is read."""
    decoder = TextDecoder(PATTERN)
    rows = []
    for _ in range(50):
        rows += decoder.decode(b"x" * LONGEST_LINE)
    rows += decoder.decode(b"\nEC=557 T=15\n")

    assert [row.values["outlet_us_cm"] for row in rows] == [557.0]
    assert decoder.counts == {"lines_too_long": 1}


def test_a_pattern_without_end_is_bounded() -> None:
    """Nested repeats would match for years: each line has its time, then lines are passed over."""
    decoder = TextDecoder(r"^(?P<outlet_conductivity>(?:a|aa)+)$")
    for _ in range(200):
        decoder.decode(b"a" * 200 + b"!\n")

    counts = decoder.counts
    assert counts["lines_too_slow"] <= 8
    assert counts["lines_too_slow"] + counts["lines_passed_over"] == 200
    assert "(a+)+" in decoder.complaint


@settings(max_examples=60)
@given(st.lists(st.binary(max_size=80), max_size=8))
def test_any_bytes_are_taken(chunks: list[bytes]) -> None:
    """Noise is never more than counted."""
    decoder = TextDecoder(PATTERN, Units())
    for chunk in chunks:
        for row in decoder.decode(chunk):
            assert all(math.isfinite(value) for value in row.values.values())


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("EC=(?P<outlet_ec>x)", "group outlet_ec is no channel"),
        ("EC=([0-9]+)", "no group names a channel"),
        ("EC=(?P<outlet_conductivity>[0-9]+", "not a pattern"),
    ],
)
def test_a_wrong_pattern_is_a_fault_of_the_site_file(pattern: str, said: str) -> None:
    """It is named where it stands, with the channels there are."""
    faults = compiled(SITE.format(k_factor="1000 pulse/L") + meter("/dev/ttyUSB0", pattern))

    assert isinstance(faults, list)
    assert [f.key for f in faults] == ["pattern"]
    assert isinstance(faults[0], Fault)
    assert said in str(faults[0])
    assert "outlet_conductivity" in faults[0].allowed
