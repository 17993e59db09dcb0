"""`lastlitre demo` as a new user runs it."""

from __future__ import annotations

import re
import signal
import threading
import urllib.request
from pathlib import Path

import pytest

from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import running
from tests.peers import eventually

pytestmark = pytest.mark.timeout(120)


def fetched(address: str) -> str:
    with urllib.request.urlopen(address, timeout=20) as answer:
        return str(answer.read().decode())


def test_a_cartridge_lives_dies_and_is_changed_on_the_real_path(tmp_path: Path) -> None:
    """Frames over a pty become rows, draws, estimates, alarms and a page that shows the speed."""
    with running("demo", "--port", "0", "--speed", "100000", "--folder", str(tmp_path)) as program:
        address = program.page()
        reader = Reader(eventually_file(tmp_path / "harbour-steps.sqlite"))

        def raised() -> set[str]:
            changes = reader.alarm_changes("bar")
            return {known.change.alarm for known in changes if known.change.change == "raised"}

        eventually("capacity-low", lambda: "capacity-low" in raised(), 60)
        page = fetched(address)
        eventually("breakthrough", lambda: "breakthrough" in raised(), 60)
        eventually(
            "a new cartridge",
            lambda: (e := reader.latest_estimate("bar")) and e.cartridge_id == "HS-0002",
            60,
        )
        assert re.search(r"clock runs [\d\u202f]+ times as fast", page)
        assert re.search(r"litres", page)
        assert program.stop() == 0
        reader.close()


def eventually_file(path: Path) -> Path:
    eventually(f"{path.name} to be there", path.exists)
    return path


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "term"])
def test_it_stops_cleanly_with_a_page_open(number: int) -> None:
    """A page that listens for live values does not hold the stop up."""
    with running("demo", "--port", "0") as program:
        address = program.page()
        stream = urllib.request.urlopen(address.replace("/now", "/live"), timeout=20)
        assert stream.readline()
        drained = threading.Thread(target=stream.read, daemon=True)
        drained.start()

        assert program.stop(number) == 0
        assert "Traceback" not in program.text
        drained.join(20)
        stream.close()


def test_the_demonstration_leaves_nothing_behind(tmp_path: Path) -> None:
    """Without a folder its file is gone afterwards."""
    with running("demo", "--port", "0", environment={"TMPDIR": str(tmp_path)}) as program:
        program.page()
        assert list(tmp_path.iterdir())
        assert program.stop() == 0

    assert list(tmp_path.iterdir()) == []
