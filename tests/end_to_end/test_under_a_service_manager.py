"""`lastlitre run` under a service manager: ready, fed, stopping."""

from __future__ import annotations

import os
import socket
import sys
import tempfile
from pathlib import Path

import pytest

from tests.end_to_end.commands import once, running

pytestmark = pytest.mark.timeout(120)

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"

[[meter]]
driver = "node-serial"
port = "tty"
"""


def test_daemon_tells_its_manager_how_it_is(tmp_path: Path) -> None:
    """READY once it works, the watchdog's word as long as it does, STOPPING at the end."""
    path = tmp_path / "site.toml"
    path.write_text(SITE)
    with (
        tempfile.TemporaryDirectory() as short,
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard,
    ):
        address = os.path.join(short, "notify")
        heard.bind(address)
        heard.settimeout(60)
        environment = {"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "4000000"}
        with running("run", str(path), "--no-page", environment=environment) as daemon:
            words = [heard.recv(100) for _ in range(4)]
            assert daemon.stop() == 0
        last = heard.recv(100)
        while last == b"WATCHDOG=1":
            last = heard.recv(100)

    assert words == [b"READY=1", *[b"WATCHDOG=1"] * 3]
    assert last == b"STOPPING=1"


def test_service_prints_the_unit_of_this_program(tmp_path: Path) -> None:
    """And puts nothing in place by itself."""
    path = tmp_path / "site.toml"
    path.write_text(SITE)
    shown = once("service", str(path), "--print", "--user", "barista")
    bare = once("service", str(path))

    assert "User=barista" in shown.stdout
    assert f'ExecStart="{Path(sys.executable).parent}/lastlitre" run "{path}"' in shown.stdout
    assert bare.returncode == 2
