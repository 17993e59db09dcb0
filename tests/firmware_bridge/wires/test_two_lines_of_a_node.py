"""One node, two lines: a turbine each, the probe inputs shared out, nothing forgotten too early."""

from __future__ import annotations

import asyncio
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.samples import NO_COUNT, Flag, Rows, no_rows
from firmware_bridge.clock import SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.daemon import run_site
from firmware_bridge.firmware import frames
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.readings.agreeing import Agreement
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.node_driver import NodeDriver
from firmware_bridge.store.reader import Reader
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.wires.boards import Board, living, until

LINE = """
[[line]]
id = "{name}"
medium = "hydrogen"
capacity = "3600 dH*L"
k_factor = "100000 pulse/L"
probes = ["outlet"]
"""
METER = """
[[meter]]
driver = "node-serial"
id = "node-{name}"
line = "{name}"
port = "{port}"
turbine = {turbine}
inputs = "{inputs}"
"""


def site_text(port: str, turbines: tuple[int, int] = (1, 2), baud: str = "") -> str:
    """Two lines on one node."""
    head = '[site]\nid = "harbour-steps"\nname = "Harbour Steps"\n'
    lines = LINE.format(name="bar") + LINE.format(name="brew")
    one = METER.format(name="bar", port=port, turbine=turbines[0], inputs="first")
    other = METER.format(name="brew", port=port, turbine=turbines[1], inputs="second")
    return head + lines + one + other + baud


class TwoTurbines(Board):
    """A node on a bench through whose second turbine water runs twice as fast."""

    def __init__(self, bench: Any, pair: PtyPair) -> None:
        super().__init__(bench, pair)
        bench.values[0], bench.values[1] = (40_000, frames.GOOD), (70_000, frames.GOOD)
        flow = bench.flow

        def both(pulses: int) -> None:
            flow(pulses)
            bench.since_start[1] += 2 * pulses

        bench.flow = both


def pulses_of(rows: Rows) -> int:
    """All pulses."""
    return int(rows.pulses[rows.pulses > 0].sum())


def stored(folder: Path) -> dict[str, Rows]:
    """The rows of both lines, none while the file is only being begun."""
    path = folder / "harbour-steps.sqlite"
    if not path.exists():
        return {"bar": no_rows(), "brew": no_rows()}
    reader = Reader(path)
    found = {name: reader.rows(name, 0, 1 << 60) for name in ("bar", "brew")}
    reader.close()
    return found


async def one_life(folder: Path, board: TwoTurbines, pulses: int) -> None:
    """The site runs until so many pulses of the first turbine are in the file."""
    site = compiled(site_text(board.pair.port), str(folder))
    assert isinstance(site, Site), site
    stop = asyncio.Event()
    task = asyncio.create_task(run_site(site, SystemClock(), stop))
    try:
        await until(lambda: (folder / "harbour-steps.sqlite").exists() or task.done())
        await until(lambda: pulses_of(stored(folder)["bar"]) >= pulses)
    finally:
        stop.set()
        await task


@pytest.mark.timeout(90)
async def test_two_lines_of_a_node_are_counted_apart(
    tmp_path: Path, bench: Any, pair: PtyPair
) -> None:
    """Over a restart of the host: every row is in the file once for each line, with its own
    turbine's pulses and its own probe as the outlet; the node has forgotten them all."""
    board = TwoTurbines(bench, pair)
    async with living(board):
        await one_life(tmp_path, board, 200)
        board.flowing = False
        await one_life(tmp_path, board, board.counted)
        found = stored(tmp_path)
        confirmed, newest = board.node.confirmed(), board.node.newest()

    bar, brew = found["bar"], found["brew"]
    assert pulses_of(bar) == board.counted
    assert pulses_of(brew) == 2 * board.counted
    assert len(bar.at_ms) == len(brew.at_ms)
    assert np.abs(bar.at_ms - brew.at_ms).max() < 1000  # each line dates what it hears by itself
    assert set(bar.outlet_us_cm) == {400.0}
    assert set(brew.outlet_us_cm) == {700.0}
    assert np.isnan(bar.inlet_us_cm).all()
    assert np.isnan(brew.inlet_us_cm).all()
    assert confirmed >= newest - 3


@pytest.mark.parametrize(
    ("turbines", "said"),
    [((1, 1), "counts the other line"), ((2, 2), "counts the other line")],
)
def test_one_turbine_counts_one_line(turbines: tuple[int, int], said: str) -> None:
    """Two lines on one turbine are told before anything runs."""
    found = compiled(site_text("/dev/ttyACM0", turbines))

    assert not isinstance(found, Site)
    assert any(said in str(fault) for fault in found)


def heard(driver: NodeDriver, *rows: frames.Frame) -> None:
    """A driver hears a hello and these rows."""
    hello = frames.Hello(1, 5, 5000, 1, 9, 0, "node")
    moment = Moment(now_ms=1_757_923_200_000, sane=True, wire_ms=5000, pace=1.0)
    driver.feed(b"".join(frame.wire() for frame in (hello, hello, *rows)), moment)


def row(seq: int, status: int = 0) -> frames.Data:
    """A row with values of its own at each input."""
    return frames.Data(1, 5, seq, 1000 * seq, status, 40_000, 15_000, 70_000, 12_000, seq, seq)


def test_a_node_forgets_only_what_both_lines_have() -> None:
    """The one line's word is kept until the other's disk has the rows too."""
    agreed = Agreement()
    bar, brew = NodeDriver("bar", agreed=agreed), NodeDriver("brew", counter=2, agreed=agreed)
    for driver in (bar, brew):
        heard(driver, row(1), row(2), row(3))

    assert bar.confirm(5, 3) == b""
    (told,) = frames.Parser().feed(brew.confirm(5, 2))
    assert (told.boot, told.seq) == (5, 2)
    (told,) = frames.Parser().feed(brew.confirm(5, 3))
    assert told.seq == 3


def test_a_doubt_of_one_input_is_none_of_the_other_lines() -> None:
    """A broken second thermometer flags the line that has it, as its outlet's."""
    status = frames.FAULT << (4 * frames.INLET_TEMP)
    found = {}
    for inputs in ("first", "second"):
        driver = NodeDriver("bar", inputs=inputs, outlet_cell=2.0)  # type: ignore[arg-type]
        heard(driver, row(1, status), row(2, status))
        lot = driver.take()
        assert lot is not None
        found[inputs] = lot.taken[0].rows

    assert found["first"].flags[-1] == Flag.GOOD
    assert found["first"].outlet_us_cm[-1] == pytest.approx(800.0)
    assert found["second"].flags[-1] == Flag.OUTLET_SUSPECT
    assert found["second"].outlet_us_cm[-1] == pytest.approx(1400.0)
    assert math.isnan(found["second"].outlet_temp_c[-1])
    assert found["second"].pulses[-1] != NO_COUNT
