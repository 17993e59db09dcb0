"""`meters scan`, `watch` and `calibrate` with devices on real ports."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
import pytest
import structlog
from click.testing import CliRunner

from analytics.samples import CrossZero, KFactorSet, ProbeCalibrated
from dashboards.calibrate_guide import Guide
from dashboards.cli import main
from firmware_bridge import config
from firmware_bridge.clock import SystemClock
from firmware_bridge.daemon import run_site
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.reader import Reader
from tests.firmware_bridge.meters.modbus_peers import (
    Cable,
    device,
    float_words,
    long_words,
    rtu_server,
    tcp_server,
)

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"
k_factor = "1400 pulse/L"
probes = ["outlet", "inlet"]

[[meter]]
driver = "modbus-tcp"
host = "127.0.0.1"
tcp_port = {port}
every = "0.2 s"

[meter.outlet_conductivity]
address = 0
type = "float32"
[meter.outlet_temperature]
address = 2
type = "float32"
[meter.inlet_conductivity]
address = 4
type = "float32"
[meter.inlet_temperature]
address = 6
type = "float32"
[meter.flow_count]
address = 8
type = "uint32"
"""


@pytest.fixture(autouse=True)
def _logs_as_before() -> Iterator[None]:
    """A command that talks to a person hushes the log of its process."""
    yield
    structlog.reset_defaults()


class Bench:
    """A device in a thread of its own whose probes and turbine the test holds in its hands."""

    def __init__(self, port: int, loop: asyncio.AbstractEventLoop, server: Any) -> None:
        self.port = port
        self._loop, self._server = loop, server
        self.count = 70_000

    def probes(self, outlet: float, inlet: float, temp_c: float = 20.0) -> None:
        """Both probes are somewhere else now."""
        words = [*float_words(outlet), *float_words(temp_c), *float_words(inlet)]
        self._put(0, [*words, *float_words(temp_c)])

    def flow(self, pulses: int) -> None:
        """Water runs."""
        self.count += pulses
        self._put(8, long_words(self.count))

    def _put(self, address: int, registers: list[int]) -> None:
        work = self._server.set(1, address, registers)
        asyncio.run_coroutine_threadsafe(work, self._loop).result(20)


@contextmanager
def bench() -> Iterator[Bench]:
    """A device that lives meanwhile."""
    ready: list[Bench] = []
    loop, stop = asyncio.new_event_loop(), asyncio.Event()

    async def live() -> None:
        async with tcp_server(device(1, [0] * 10)) as server:
            ready.append(Bench(server.port, asyncio.get_running_loop(), server))
            await stop.wait()

    thread = threading.Thread(target=lambda: loop.run_until_complete(live()))
    thread.start()
    try:
        while not ready:
            time.sleep(0.01)
        ready[0].probes(500.0, 505.0)
        ready[0].flow(0)
        yield ready[0]
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(20)
        loop.close()


class Installer:
    """A person who does what is asked: each question's beginning and what is done then."""

    def __init__(self, does: dict[str, Callable[[], str]]) -> None:
        self.does = does
        self.said: list[str] = []

    def ask(self, text: str, default: str = "", **_: Any) -> str:
        """Answer a question."""
        self.said.append(text)
        for begins, act in self.does.items():
            if text.strip().startswith(begins):
                return act() or default
        raise AssertionError(f"nobody told me what to do: {text}")

    def confirm(self, text: str, default: bool = True) -> bool:
        """Agree."""
        self.said.append(text)
        return default if "done already" in text else True

    @property
    def text(self) -> str:
        """All that was said."""
        return "\n".join(self.said)


def done(act: Callable[[], object]) -> Callable[[], str]:
    """Something that is done and answered with Enter."""

    def do() -> str:
        act()
        return ""

    return do


def installer(device_: Bench, jugs: list[tuple[int, str]]) -> Installer:
    """One whose outlet probe reads 2 % too much and 3 uS/cm dry, whose standard has 20 C."""
    left = list(jugs)
    litres: list[str] = []

    def fill() -> str:
        assert left, person.text
        pulses, volume = left.pop(0)
        litres.append(volume)
        for _ in range(4):
            device_.flow(pulses // 4)
            time.sleep(0.25)
        return ""

    person = Installer(
        {
            "Take the outlet": done(lambda: device_.probes(3.0, 505.0)),
            "Take the inlet": done(lambda: device_.probes(500.0, 0.0)),
            "What is printed": lambda: "1413",
            "Rinse the outlet": done(lambda: device_.probes(1276.5 * 1.02 + 3.0, 505.0)),
            "Rinse the inlet": done(lambda: device_.probes(500.0, 1276.5)),
            "Temperature of": lambda: "20",
            "Put both": done(lambda: device_.probes(513.0, 500.0)),
            "Fill a jug": fill,
            "How many litres": lambda: litres[-1],
        }
    )
    return person


def events_of(path: Path) -> list[Any]:
    """Every fact in the site's file."""
    reader = Reader(path)
    try:
        return reader.events()
    finally:
        reader.close()


JUGS = [(1400, "1"), (1404, "1"), (1396, "1"), (1340, "1,0"), (1336, "1"), (1344, "1.0")]


def _check(events: list[Any]) -> None:
    probes = {e.probe: e for e in events if isinstance(e, ProbeCalibrated)}
    assert probes["outlet"].gain == pytest.approx(1 / 1.02, rel=0.004)
    assert probes["outlet"].dry_us_cm == pytest.approx(3.0, abs=0.3)
    assert probes["inlet"].gain == pytest.approx(1.0, rel=0.004)
    assert 0.004 < probes["outlet"].relative_sd < 0.012
    (zero,) = [e for e in events if isinstance(e, CrossZero)]
    assert (zero.outlet_us_cm, zero.inlet_us_cm) == (513.0, 500.0)
    (k,) = [e for e in events if isinstance(e, KFactorSet)]
    assert k.pulses_per_l == pytest.approx(1370.0, rel=0.003)
    assert 0.012 < k.relative_sd < 0.025


@pytest.mark.timeout(300)
def test_calibrate_from_the_dry_probe_to_the_jugs(tmp_path: Path) -> None:
    """Every step with its figures shown and kept; a second run passes over what is done."""
    path = tmp_path / "harbour-steps.sqlite"
    with bench() as held:
        (tmp_path / "site.toml").write_text(SITE.format(port=held.port))
        site = config.load(tmp_path / "site.toml")
        person = installer(held, JUGS)
        with Guide(
            site, site.setup.lines[0], ask=person.ask, confirm=person.confirm,
            say=person.said.append, who="installer",
        ) as guide:  # fmt: skip
            guide.run(("dry", "standard", "cross-zero", "jugs"))
        _check(events_of(path))
        assert "do not start the site meanwhile" in person.text
        assert "the outlet probe reads +2.60 %" in person.text
        assert "1400 pulses" in person.text

        again = Installer({})
        with Guide(
            site, site.setup.lines[0], ask=again.ask, confirm=again.confirm, say=again.said.append
        ) as guide:
            guide.run(("dry", "standard", "cross-zero", "jugs"))
        assert again.text.count("done already") == 4
        assert len(events_of(path)) == 4


@pytest.mark.timeout(300)
async def test_calibrate_beside_a_running_site(tmp_path: Path) -> None:
    """Nothing has to be stopped: rows come through the site's file, facts through its hatch."""
    path, stop = tmp_path / "harbour-steps.sqlite", asyncio.Event()
    with bench() as held:
        (tmp_path / "site.toml").write_text(SITE.format(port=held.port))
        site = await asyncio.to_thread(config.load, tmp_path / "site.toml")
        running = asyncio.create_task(run_site(site, SystemClock(), stop))
        try:
            async with asyncio.timeout(60):
                while not WriterLock.is_held(path):  # noqa: ASYNC110 - it has no event
                    await asyncio.sleep(0.05)
            person = installer(held, JUGS)

            def work() -> None:
                with Guide(
                    site, site.setup.lines[0], ask=person.ask, confirm=person.confirm,
                    say=person.said.append, who="installer",
                ) as guide:  # fmt: skip
                    guide.run(("cross-zero", "jugs"))

            await asyncio.to_thread(work)
            async with asyncio.timeout(60):
                while not [e for e in events_of(path) if isinstance(e, KFactorSet)]:  # noqa: ASYNC110
                    await asyncio.sleep(0.1)
        finally:
            stop.set()
            await running
    kinds = {type(e) for e in events_of(path)}
    assert {CrossZero, KFactorSet} <= kinds
    assert "nothing has to be stopped" in person.text


@pytest.mark.timeout(300)
def test_a_wrong_jug_is_left_out_and_drawn_again(tmp_path: Path) -> None:
    """Three jugs that disagree are not averaged away."""
    with bench() as held:
        (tmp_path / "site.toml").write_text(SITE.format(port=held.port))
        site = config.load(tmp_path / "site.toml")
        person = installer(held, [(1400, "1"), (1400, "1.25"), *JUGS[1:]])
        with Guide(
            site, site.setup.lines[0], ask=person.ask, confirm=person.confirm,
            say=person.said.append, who="installer",
        ) as guide:  # fmt: skip
            guide.run(("jugs",))

    assert "1\u202f120.0 pulses/L is left out; draw one more." in person.text
    (k,) = events_of(tmp_path / "harbour-steps.sqlite")
    assert k.pulses_per_l == pytest.approx(1370.0, rel=0.003)


@pytest.mark.timeout(90)
def test_watch_shows_each_meter_once(tmp_path: Path) -> None:
    """Text for people, JSON for programs; a meter that is silent says why."""
    with bench() as held:
        (tmp_path / "site.toml").write_text(SITE.format(port=held.port))
        shown = CliRunner().invoke(main, ["meters", "watch", str(tmp_path / "site.toml"), "--once"])
        lines = CliRunner().invoke(
            main, ["meters", "watch", str(tmp_path / "site.toml"), "--once", "--json"]
        )
    assert "500.0 µS/cm 20.0 °C" in shown.output
    assert "good" in shown.output
    row = json.loads(lines.output.splitlines()[0])
    assert row["outlet_us_cm"] == 500.0
    assert row["quality"] == ["good"]
    gone = CliRunner().invoke(
        main, ["meters", "watch", str(tmp_path / "site.toml"), "--once", "--json"]
    )
    faults = [json.loads(line) for line in gone.output.splitlines()]
    assert any("cannot be opened" in fault["fault"] for fault in faults)


def scanned(*arguments: str) -> str:
    """What a scan says."""
    result = CliRunner().invoke(main, ["meters", "scan", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.timeout(120)
def test_scan_finds_modbus_units_on_tcp() -> None:
    """With the lines to put into the site file."""
    with bench() as held:
        said = scanned(f"127.0.0.1:{held.port}", "--units", "1-1")

    assert "answers: Modbus unit 1: input register 0 holds" in said
    assert f"tcp_port = {held.port}" in said
    assert "lastlitre check" in said


@pytest.mark.timeout(120)
def test_scan_finds_lines_of_text() -> None:
    """The line is shown, the pace found by itself."""
    pair, over = PtyPair(), threading.Event()

    def print_lines() -> None:
        while not over.wait(0.1):
            pair.read()
            pair.write(b"EC=557.1 T=15.2\r\n")

    thread = threading.Thread(target=print_lines)
    thread.start()
    try:
        said = scanned(pair.port)
    finally:
        over.set()
        thread.join(20)
        pair.close()
    assert "'EC=557.1 T=15.2'" in said
    assert 'driver = "text-lines"' in said


@pytest.mark.timeout(90)
def test_scan_finds_a_sensor_on_an_sdi_12_adapter() -> None:
    """Each address is asked whether it is there; the adapter's bits are found by trying."""
    pair, over = PtyPair(), threading.Event()

    def answer() -> None:
        heard = b""
        while not over.wait(0.002):
            heard = (heard + pair.read().replace(b"\0", b""))[-200:]
            if heard.endswith(b"3!"):
                heard = b""
                pair.write(b"3\r\n")

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        said = scanned(pair.port, "--units", "1-1", "--baud", "19200")
    finally:
        over.set()
        thread.join(20)
        pair.close()
    assert "answers: SDI-12 sensor at address 3" in said
    assert 'address = "3"' in said


@pytest.mark.timeout(120)
def test_scan_finds_a_node(tmp_path: Path) -> None:
    """The node is asked who it is, and nothing else."""
    from firmware_bridge.virtual.cafe import VirtualCafe

    pair = PtyPair(tmp_path / "node")
    loop, stop = asyncio.new_event_loop(), asyncio.Event()

    async def live() -> None:
        clock = SystemClock()
        cafe = asyncio.create_task(VirtualCafe(start_ms=clock.now_ms(), seed=1).run(pair, clock))
        await stop.wait()
        cafe.cancel()
        await asyncio.gather(cafe, return_exceptions=True)

    thread = threading.Thread(target=lambda: loop.run_until_complete(live()))
    thread.start()
    try:
        said = scanned(pair.port)
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(20)
        loop.close()
        pair.close()
    assert "answers: a LastLitre node" in said
    assert 'driver = "node-serial"' in said


@pytest.mark.timeout(90)
def test_scan_finds_a_modbus_unit_on_a_serial_line() -> None:
    """It listens, asks for a node, then for units one by one."""
    loop, stop, ready = asyncio.new_event_loop(), asyncio.Event(), []

    async def live() -> None:
        async with Cable().plugged() as cable, rtu_server(cable.other.port, device(3, [412])):
            ready.append(cable.one.port)
            await stop.wait()

    thread = threading.Thread(target=lambda: loop.run_until_complete(live()))
    thread.start()
    try:
        while not ready:
            time.sleep(0.01)
        said = scanned(ready[0], "--units", "2-4", "--baud", "19200", "--no-sdi-12")
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(20)
        loop.close()
    assert "answers: Modbus unit 3 at 19200 baud: input register 0 holds 412" in said
    assert "unit = 3" in said


def test_scan_of_a_port_that_is_not_there_says_so(tmp_path: Path) -> None:
    """The port and what to check."""
    said = scanned(str(tmp_path / "none"))

    assert "cannot be opened" in said


def test_every_command_has_words_for_each_option() -> None:
    """Help says what an option is for."""
    group = main.get_command(click.Context(main), "meters")
    assert isinstance(group, click.Group)
    for command in group.commands.values():
        for option in command.params:
            if isinstance(option, click.Option):
                assert option.help, f"{command.name} {option.name}"
