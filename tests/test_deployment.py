"""The page on running a fleet: its blocks are run as they stand, in their order."""

from __future__ import annotations

import os
import re
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from firmware_bridge import config
from firmware_bridge.fleet.config import load_fleet
from firmware_bridge.fleet.identity.broker_folder import BrokerPlan, write_broker
from tests.end_to_end.commands import COMMAND
from tests.peers import PATIENCE_S, eventually, free_port, listens, program

PAGE = (
    Path(__file__).resolve().parents[1] / "firmware_bridge" / "fleet" / "DEPLOYMENT.md"
).read_text(encoding="utf-8")
BLOCK = re.compile(r"^( *)```(\w+)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
HERE = {"fleet.example": "localhost", "0.0.0.0": "127.0.0.1"}
"""Names of the page, and what stands for them on a machine that only has itself."""


def _blocks(kind: str) -> list[str]:
    """The page's blocks of one kind, without their indent."""
    return [
        re.sub(f"^{indent}", "", text, flags=re.MULTILINE)
        for indent, found, text in BLOCK.findall(PAGE)
        if found == kind
    ]


class Reader:
    """Somebody who does what the page says, in an empty folder, on free ports."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ports = {port: free_port() for port in ("1883", "8883", "8430")}
        self._groups: list[int] = []

    def own(self, text: str) -> str:
        """The page's text with the names and ports of this machine."""
        for name, here in (HERE | {k: str(v) for k, v in self.ports.items()}).items():
            text = text.replace(name, here)
        ports = f"--port {self.ports['1883']} --tls-port {self.ports['8883']} --run-as root"
        return text.replace("fleet.toml broker --cert", f"fleet.toml broker {ports} --cert")

    def run(self, block: str) -> None:
        """Run a block of shell; what it puts into the background stays until the end."""
        said = self.folder / "said"
        path = f"{COMMAND.parent}:{os.environ['PATH']}:/usr/sbin"
        with said.open("ab") as log:
            shell = subprocess.Popen(
                ["bash", "-euo", "pipefail", "-c", self.own(block)],
                cwd=self.folder, stdout=log, stderr=log, start_new_session=True,
                env=dict(os.environ, PATH=path),
            )  # fmt: skip
        self._groups.append(shell.pid)
        assert shell.wait(60) == 0, f"{block}\n{said.read_text(errors='replace')}"

    def end(self) -> None:
        """End all that was left in the background."""
        for group in self._groups:
            try:
                os.killpg(group, signal.SIGTERM)
            except ProcessLookupError:
                continue
            eventually("the processes of a block to end", lambda group=group: _gone(group))


def _gone(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return True
    return False


@contextmanager
def _reader(folder: Path) -> Iterator[Reader]:
    reader = Reader(folder)
    try:
        yield reader
    finally:
        reader.end()


@pytest.mark.peer
@pytest.mark.timeout(120)
def test_the_page_is_done_as_it_is_written(tmp_path: Path) -> None:
    """From an empty folder to a site that joined and was cut off again, over TLS all the way."""
    keys, broker, start, code, joins, revoke, token, backup = _blocks("sh")
    with _reader(tmp_path) as reader:
        reader.run(keys)
        reader.run(broker)
        eventually("the broker to listen", lambda: listens(reader.ports["8883"]))
        (tmp_path / "fleet.toml").write_text(reader.own(_blocks("toml")[0]))
        reader.run(start)
        eventually("the pages to listen", lambda: listens(reader.ports["8430"]), 2 * PATIENCE_S)
        for block in (code, joins, token, backup):
            reader.run(block)

        (sink,) = config.load(tmp_path / "site.toml").wiring.sinks
        assert getattr(sink.options, "port", None) == reader.ports["8883"]
        assert (tmp_path / "site.fleet.pem").read_text() == (tmp_path / "ca.pem").read_text()
        assert (tmp_path / "token").read_text().startswith("llt_")
        assert (tmp_path / "fleet.backup").stat().st_size > 4096
        reader.run(revoke)
        assert "1 login revoked" in (tmp_path / "said").read_text()


def test_the_tables_of_the_page_make_a_fleet_file(tmp_path: Path) -> None:
    """All its tables together are a fleet file without a fault."""
    write_broker(tmp_path / "broker", BrokerPlan())
    (tmp_path / "records.secret").write_text("secret word\n")
    (tmp_path / "records.secret").chmod(0o600)
    (tmp_path / "ca.pem").write_text("-----BEGIN CERTIFICATE-----\n")
    (tmp_path / "fleet.toml").write_text("\n".join(_blocks("toml")))

    file = load_fleet(tmp_path / "fleet.toml")

    assert file.broker.user == "worker"
    assert file.joining is not None
    assert (file.joining.keeper.user, file.joining.host) == ("keeper", "fleet.example")
    assert file.series is not None
    assert file.records_password == "secret word"


@pytest.mark.timeout(60)
def test_systemd_finds_no_fault_in_its_unit(tmp_path: Path) -> None:
    """The service is one that systemd takes."""
    *_, unit = _blocks("ini")
    path = tmp_path / "lastlitre-fleet.service"
    path.write_text(unit.replace("/opt/lastlitre/bin/lastlitre", str(COMMAND)))
    done = subprocess.run(
        [program("systemd-analyze"), "verify", str(path)],
        capture_output=True, text=True, timeout=50, check=False,
    )  # fmt: skip
    said = [line for line in done.stderr.splitlines() if path.name in line]
    assert said == [], done.stderr


def test_what_the_page_says_of_the_broker_is_in_its_settings(tmp_path: Path) -> None:
    """Each setting in the table stands in the file that is written."""
    write_broker(tmp_path / "b", BrokerPlan())
    settings = (tmp_path / "b" / "mosquitto.conf").read_text()
    named = set(re.findall(r"`((?:max|persistent)_\w+)`", PAGE))

    assert len(named) == 6
    for name in named:
        assert re.search(rf"^{name} \w+$", settings, re.MULTILINE), name
