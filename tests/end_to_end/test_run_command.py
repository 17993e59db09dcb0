"""`lastlitre run`: a node on a serial line, a broker, a time-series store and a page, all real."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from firmware_bridge.clock import SystemClock
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.receiver.receiver import Receiver
from firmware_bridge.store.reader import Reader
from firmware_bridge.virtual.cafe import VirtualCafe
from tests.end_to_end.commands import once, running
from tests.peers import broker, eventually, time_series_store

pytestmark = pytest.mark.timeout(120)

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"
time_zone = "Europe/London"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "26000 dH*L"
bypass = "30 %"
k_factor = "1000 pulse/L"
probes = ["outlet", "inlet"]
start = "new"

[[meter]]
driver = "node-serial"
id = "node"
port = "{port}"

[page]
port = 0
"""
SINKS = """
[[sink]]
kind = "mqtt"
host = "127.0.0.1"
port = {broker}

[[sink]]
kind = "line-protocol"
url = "http://127.0.0.1:{store}"
"""


@contextmanager
def node(link: Path) -> Iterator[PtyPair]:
    """A node's real logic at the other end of a serial line, in real time."""
    pair = PtyPair(link)
    loop = asyncio.new_event_loop()
    clock = SystemClock()
    cafe = VirtualCafe(start_ms=clock.now_ms(), busy=150.0, opening=((0, 1440),) * 7)

    def live() -> None:
        task = loop.create_task(cafe.run(pair, clock))
        loop.call_soon(lambda: None)
        try:
            loop.run_until_complete(task)
        except asyncio.CancelledError:
            return

    thread = threading.Thread(target=live)
    thread.start()
    try:
        yield pair
    finally:
        loop.call_soon_threadsafe(lambda: [t.cancel() for t in asyncio.all_tasks(loop)])
        thread.join(20)
        loop.close()
        pair.close()


def site_file(folder: Path, port: str, sinks: str = "") -> Path:
    path = folder / "site.toml"
    path.write_text(SITE.format(port=port) + sinks)
    return path


def test_rows_reach_disk_broker_and_time_series_store(tmp_path: Path) -> None:
    """Every stored row is confirmed by the receiver, samples are shown, and the page answers."""
    with (
        broker(tmp_path) as mosquitto,
        time_series_store(tmp_path) as series,
        node(tmp_path / "tty") as pair,
        Receiver(MqttOptions(host="127.0.0.1", port=mosquitto.port), tmp_path / "far.db") as far,
    ):
        sinks = SINKS.format(broker=mosquitto.port, store=series.port)
        path = site_file(tmp_path, pair.port, sinks)
        with running("run", str(path)) as program:
            program.page()
            reader = Reader(_there(tmp_path / "harbour-steps.sqlite"))
            eventually("rows", lambda: len(reader.rows("bar", 0, 1 << 60)) > 3, 60)
            eventually("confirmation", lambda: reader.cursors().get("mqtt", 0) > 3, 60)
            eventually("samples", lambda: len(series.samples('{line="bar"}')) > 3, 60)
            assert program.stop() == 0
        confirmed = reader.cursors()["mqtt"]
        reader.close()
        assert confirmed == far.kept.sites()["harbour-steps"]
        assert set(far.kept.numbers("harbour-steps")) <= set(range(1, confirmed + 1))
        assert far.kept.aside() == []


def _there(path: Path) -> Path:
    eventually(f"{path.name}", path.exists)
    return path


def test_a_port_that_is_not_there_is_named_and_waited_for(tmp_path: Path) -> None:
    """The daemon says which port it misses, and reads on once it is there."""
    link = tmp_path / "tty"
    path = site_file(tmp_path, str(link))
    with running("run", str(path), "--no-page") as program:
        eventually("the fault", lambda: "meter.link" in program.text and "tty" in program.text, 30)
        with node(link):
            reader = Reader(_there(tmp_path / "harbour-steps.sqlite"))
            eventually("rows", lambda: len(reader.rows("bar", 0, 1 << 60)) > 1, 60)
            reader.close()
            assert program.stop() == 0


def test_a_second_daemon_on_the_file_is_refused_in_plain_words(tmp_path: Path) -> None:
    """Exit code 2, and a sentence that says who has the file."""
    path = site_file(tmp_path, str(tmp_path / "tty"))
    with running("run", str(path), "--no-page") as program:
        _there(tmp_path / "harbour-steps.sqlite")
        eventually("the first to run", lambda: "meter.link" in program.text, 30)
        second = once("run", str(path), "--no-page")

        assert second.returncode == 2
        assert "harbour-steps.sqlite" in second.stderr
        assert program.stop() == 0
