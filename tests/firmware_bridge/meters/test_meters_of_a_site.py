"""Meters in a running site: two on one line, a plate's promise, complaints that do not flood."""

from __future__ import annotations

import asyncio
import math
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import numpy as np
import pytest
import structlog

from analytics.errors import StoreError
from analytics.samples import KFactorSet, Rows, no_rows
from firmware_bridge.acquire import shape_of
from firmware_bridge.clock import SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.daemon import run_site
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.store.reader import Reader
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.meters.at_work import SITE, at_work, site_with
from tests.firmware_bridge.meters.modbus_peers import device, long_words, tcp_server

COUNTER = """
[[meter]]
driver = "modbus-tcp"
id = "water-meter"
host = "127.0.0.1"
tcp_port = {port}
every = "100 ms"
pulse_value = "1 mL"
accuracy_class = "2"
[meter.flow_count]
address = 0
type = "uint32"
"""
PROBE = """
[[meter]]
driver = "text-lines"
id = "probe"
port = "{port}"
pattern = '(?P<outlet_conductivity>[0-9.]+) (?P<outlet_temperature>[0-9.]+)'
"""


@asynccontextmanager
async def running(folder: Path, meters: str) -> AsyncIterator[Site]:
    """A site at work meanwhile."""
    found = compiled(SITE.format(k_factor="1000 pulse/L") + meters, str(folder))
    assert isinstance(found, Site), found
    stop = asyncio.Event()
    task = asyncio.create_task(run_site(found, SystemClock(), stop))
    try:
        yield found
    finally:
        stop.set()
        await task


def stored(folder: Path) -> tuple[Rows, list[KFactorSet]]:
    """Rows and K-factors in the file, none while it is only being begun."""
    path = folder / "harbour-steps.sqlite"
    if not path.exists():
        return no_rows(), []
    reader = Reader(path)
    try:
        events = [e for e in reader.events() if isinstance(e, KFactorSet)]
        return reader.rows("bar", 0, 1 << 60), events
    except StoreError:
        return no_rows(), []
    finally:
        reader.close()


@pytest.mark.timeout(60)
async def test_a_probe_and_a_water_meter_make_one_row(tmp_path: Path) -> None:
    """Rows with pulses carry the probe's values; the plate's class is noted once, over restarts,
    and counting goes on where it was."""
    probe = PtyPair(tmp_path / "probe")
    async with tcp_server(device(1, long_words(0))) as server:
        meters = COUNTER.format(port=server.port) + PROBE.format(port=probe.port)
        count = 0
        for _ in range(2):
            async with running(tmp_path, meters), asyncio.timeout(25):
                goal = count + 200
                while True:
                    count += 5
                    probe.write(b"557.5 15.2\r\n")
                    await server.set(1, 0, long_words(count))
                    await asyncio.sleep(0.05)
                    rows, _ = stored(tmp_path)
                    flowing = np.flatnonzero(rows.pulses > 0)
                    whole = np.isfinite(rows.outlet_us_cm[flowing]).sum() >= 5
                    if whole and int(rows.pulses[flowing].sum()) >= goal - 100:
                        break
    probe.close()
    rows, plates = stored(tmp_path)
    flowing = np.flatnonzero(rows.pulses > 0)
    assert set(rows.outlet_us_cm[flowing][np.isfinite(rows.outlet_us_cm[flowing])]) == {557.5}
    assert int(rows.pulses[flowing].sum()) <= count
    assert (np.diff(rows.at_ms) > 0).all()
    assert [e.relative_sd for e in plates] == [pytest.approx(0.02 * 2 / math.sqrt(3.0))]


async def test_the_same_complaint_with_other_figures_is_logged_once() -> None:
    """A value that cannot be is another one each time; the log is not filled by it."""
    async with tcp_server(device(1, [60_000])) as server:
        meter = (
            f'\n[[meter]]\ndriver = "modbus-tcp"\nhost = "127.0.0.1"\ntcp_port = {server.port}\n'
            'every = "50 ms"\n[meter.outlet_conductivity]\naddress = 0\n'
        )
        with structlog.testing.capture_logs() as logs:
            async with at_work(site_with(meter)) as rig:
                for n in range(20):
                    await server.set(1, 0, [50_000 + n])
                    await rig.rows_more(1)
    said = [entry for entry in logs if entry["event"] == "meter.answer"]
    assert len(said) == 1
    assert "cannot be" in said[0]["fault"]


def test_the_shape_of_a_sentence() -> None:
    """Figures away, words kept."""
    assert shape_of("x reads 2.00412e-05 uS/cm at 7") == shape_of("x reads 41 uS/cm at 9")
    assert shape_of("unit 7 is busy") != shape_of("unit 7 does not answer")
