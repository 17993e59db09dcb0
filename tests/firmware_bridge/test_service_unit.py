"""The systemd unit: checked by systemd's own tools, and the word that the daemon sends it."""

from __future__ import annotations

import asyncio
import configparser
import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from firmware_bridge import config
from firmware_bridge.service_unit import unit_text
from firmware_bridge.watchdog import Manager, feed, manager_of
from tests.peers import program

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps, 100 % steam"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"

[[meter]]
driver = "node-serial"
port = "{port}"

[page]
port = {page}
"""


def unit_of(folder: Path, port: str = "/dev/ttyUSB0", page: int = 8420) -> str:
    """The unit of a site in this folder."""
    path = folder / "site of mine.toml"
    path.write_text(SITE.format(port=port, page=page))
    return unit_text(config.load(path), path, "root", Path(sys.executable))


def analysed(folder: Path, unit: str, *words: str) -> str:
    """What systemd-analyze says of a unit."""
    file = folder / "lastlitre.service"
    file.write_text(unit)
    done = subprocess.run(
        [program("systemd-analyze"), *words, str(file)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.mark.timeout(120)
@pytest.mark.parametrize("port", ["/dev/ttyUSB0", "/dev/serial/by-id/usb-node", "pty/link"])
def test_systemd_finds_no_fault_in_the_unit(tmp_path: Path, port: str) -> None:
    """Every key is known, every value can be read."""
    said = analysed(
        tmp_path, unit_of(tmp_path, port), "verify", "--man=no", "--recursive-errors=no"
    )

    assert "lastlitre.service" not in said


@pytest.mark.timeout(120)
def test_systemd_finds_the_box_tight(tmp_path: Path) -> None:
    """Its own measure of exposure, 0 to 10: "OK" ends at 4.9, "exposed" begins at 7."""
    said = analysed(tmp_path, unit_of(tmp_path), "security", "--offline=true", "--no-pager")
    found = re.search(r"Overall exposure level[^:]*: ([\d.]+)", said)

    assert found is not None, said
    assert float(found[1]) < 3.0


@pytest.mark.parametrize(
    ("port", "lines"),
    [
        ("/dev/ttyUSB3", ["DeviceAllow=char-ttyUSB rw"]),
        ("/dev/ttyAMA0", ["DeviceAllow=char-ttyAMA rw"]),
        ("/dev/serial/by-id/usb-x", ["DeviceAllow=char-ttyACM rw", "DeviceAllow=char-ttyUSB rw"]),
    ],
)
def test_only_the_serial_ports_of_the_site_file_may_be_opened(
    tmp_path: Path, port: str, lines: list[str]
) -> None:
    """By their kind: one that is plugged in later is allowed as well."""
    unit = unit_of(tmp_path, port)

    assert "DevicePolicy=closed" in unit
    assert [line for line in unit.splitlines() if line.startswith("DeviceAllow")] == lines


def test_unit_holds_what_the_daemon_needs(tmp_path: Path) -> None:
    """Type, watchdog, what may be written; a port below 1024 takes its capability."""
    parser = configparser.RawConfigParser(strict=False)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(unit_of(tmp_path, page=443))
    service = parser["Service"]

    assert service["Type"] == "notify"
    assert service["WatchdogSec"] == "120"
    assert service["ProtectSystem"] == "strict"
    assert service["ReadWritePaths"] == f'"{tmp_path}"'
    assert service["ExecStart"].endswith(f'run "{tmp_path}/site of mine.toml"')
    assert service["CapabilityBoundingSet"] == "CAP_NET_BIND_SERVICE"
    assert parser["Unit"]["Description"] == "LastLitre: Harbour Steps, 100 %% steam"


def test_manager_is_known_by_its_environment() -> None:
    """A socket, and a watchdog that is meant for this process."""
    asked = {"NOTIFY_SOCKET": "/run/x", "WATCHDOG_USEC": "30000000"}

    assert manager_of(asked) == Manager(address="/run/x", watchdog_s=30.0)
    assert manager_of({**asked, "WATCHDOG_PID": "1"}).watchdog_s is None
    assert manager_of({**asked, "WATCHDOG_USEC": "soon"}).watchdog_s is None
    assert manager_of({}) == manager_of({"NOTIFY_SOCKET": "vsock:1"}) == Manager()


async def test_watchdog_is_fed_only_while_the_work_goes_on(tmp_path: Path) -> None:
    """Ready at once; then one word for each time that progress was seen, none while it stands."""
    path = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(path))
        heard.setblocking(False)
        loop, ended, beats = asyncio.get_running_loop(), asyncio.Event(), [0]
        feeding = asyncio.create_task(
            feed(Manager(address=str(path), watchdog_s=0.2), lambda: beats[0], ended)
        )

        async def word() -> bytes:
            return await asyncio.wait_for(loop.sock_recv(heard, 100), 20)

        assert await word() == b"READY=1"
        for _ in range(3):
            beats[0] += 1
            assert await word() == b"WATCHDOG=1"
        await asyncio.sleep(0.3)
        with pytest.raises(BlockingIOError):
            heard.recv(100)
        beats[0] += 1
        assert await word() == b"WATCHDOG=1"
        ended.set()
        await asyncio.wait_for(feeding, 20)


def test_manager_that_does_not_listen_is_no_trouble(tmp_path: Path) -> None:
    """Neither a missing socket nor one of another sort."""
    Manager(address=str(tmp_path / "none")).tell("READY=1")
    Manager(address="@lastlitre-nobody").tell("READY=1")
    Manager().tell("READY=1")
