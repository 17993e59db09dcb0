"""`lastlitre firmware`: what a user copies is what runs, from the unpacked folder to the store."""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import once, running
from tests.end_to_end.test_run_command import site_file
from tests.firmware_bridge.firmware.interpreter import micropython
from tests.peers import eventually

pytestmark = pytest.mark.timeout(120)


@contextmanager
def node_on(pair: PtyPair, folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """The unpacked program in a real MicroPython, its input and output being the line."""
    end = os.open(pair.port, os.O_RDWR | os.O_NOCTTY)
    process = subprocess.Popen(
        [micropython(), "on_a_computer.py"],
        cwd=folder,
        stdin=end,
        stdout=end,
        stderr=subprocess.PIPE,
    )
    os.close(end)
    try:
        yield process
    finally:
        process.kill()
        process.wait(20)
        assert process.stderr is not None
        process.stderr.close()


def test_the_unpacked_program_runs_and_its_water_is_stored(tmp_path: Path) -> None:
    """Unpack, start, and the site's file fills with its rows and pulses; a start anew of the node
    takes nothing back."""
    folder = tmp_path / "board"
    assert once("firmware", str(folder)).returncode == 0
    cable = PtyPair(tmp_path / "tty")
    relay = PtyPair()
    with running("run", str(site_file(tmp_path, cable.port)), "--no-page") as program:
        with joined(cable, relay):
            with node_on(relay, folder):
                path = tmp_path / "harbour-steps.sqlite"
                eventually("the port", lambda: "meter.open" in program.text, 30)
                reader = Reader(path)
                eventually("water", lambda: pulses(reader) > 50, 60)
            before = pulses(reader)
            with node_on(relay, folder):
                eventually("more water", lambda: pulses(reader) > before + 50, 60)
        found = reader.rows("bar", 0, 1 << 60)
        reader.close()
        assert program.stop() == 0
    relay.close()
    cable.close()

    assert min(found.pulses) >= 0
    assert found.outlet_us_cm[-1] == pytest.approx(1e6 / 1500, rel=0.01)
    assert found.inlet_temp_c[-1] == 20.0


def test_a_node_is_set_up_from_the_command_line(tmp_path: Path) -> None:
    """Who it is, its self test, its settings; one is changed; a wrong one is refused in words."""
    folder = tmp_path / "board"
    once("firmware", str(folder))
    cable, relay = PtyPair(), PtyPair()
    with joined(cable, relay), node_on(relay, folder):
        done = once("node", cable.port, "ec-range=3")
        wrong = once("node", cable.port, "ec-range=4")
    cable.close()
    relay.close()

    assert done.returncode == 0, done.stderr
    assert "node 1: node on a computer" in done.stdout
    assert "self test: sound" in done.stdout
    assert "ec-range         3" in done.stdout
    assert wrong.returncode == 2
    assert "0 to 3" in wrong.stderr


def pulses(reader: Reader) -> int:
    """Pulses stored so far."""
    return int(reader.rows("bar", 0, 1 << 60).pulses.sum())


@contextmanager
def joined(one: PtyPair, other: PtyPair) -> Iterator[None]:
    """Two cables, end to end."""
    stop = threading.Event()

    def carry() -> None:
        while not stop.wait(0.01):
            one.write(other.read())
            other.write(one.read())

    carrier = threading.Thread(target=carry)
    carrier.start()
    try:
        yield
    finally:
        stop.set()
        carrier.join(20)


def test_a_users_settings_are_never_written_over(tmp_path: Path) -> None:
    """A second time it refuses and says how; with --overwrite the program is new and the settings
    are the user's."""
    folder = tmp_path / "board"
    once("firmware", str(folder))
    (folder / "settings.py").write_text("NAME = 'mine'\n")
    (folder / "main.py").write_text("broken")

    refused = once("firmware", str(folder))
    again = once("firmware", str(folder), "--overwrite")

    assert refused.returncode == 2
    assert "is there already" in refused.stderr
    assert "--overwrite" in refused.stderr
    assert again.returncode == 0
    assert (folder / "settings.py").read_text() == "NAME = 'mine'\n"
    assert "station.run()" in (folder / "main.py").read_text()


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """A file where the folder should be: a sentence, exit code 2."""
    (tmp_path / "board").write_text("")

    done = once("firmware", str(tmp_path / "board"))

    assert done.returncode == 2
    assert str(tmp_path / "board") in done.stderr


def test_two_daemons_on_one_port(tmp_path: Path) -> None:
    """The second one says that another program holds the port, waits, and reads once it is free."""
    folder = tmp_path / "board"
    once("firmware", str(folder))
    cable, relay = PtyPair(tmp_path / "tty"), PtyPair()
    sites = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        sites.append(site_file(tmp_path / name, cable.port))
    with (
        joined(cable, relay),
        node_on(relay, folder),
        running("run", str(sites[0]), "--no-page") as first,
    ):
        eventually("the first", lambda: "meter.open" in first.text, 30)
        with running("run", str(sites[1]), "--no-page") as second:
            eventually("words", lambda: "Another program holds this port" in second.text, 30)
            assert "meter.open" not in second.text
            assert first.stop() == 0
            reader = Reader(tmp_path / "two" / "harbour-steps.sqlite")
            eventually("its rows", lambda: len(reader.rows("bar", 0, 1 << 60)) > 1, 60)
            reader.close()
            assert second.stop() == 0
    cable.close()
    relay.close()
