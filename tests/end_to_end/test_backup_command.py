"""`lastlitre backup` and `lastlitre restore` as their user types them."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import once, running
from tests.end_to_end.test_run_command import node, site_file
from tests.peers import eventually

pytestmark = pytest.mark.timeout(120)


def test_a_running_site_is_copied_and_put_back_once_it_is_stopped(tmp_path: Path) -> None:
    """The backup says what it holds; a restore is refused while the site runs, then done."""
    path, data = site_file(tmp_path, str(tmp_path / "tty")), tmp_path / "harbour-steps.sqlite"
    with node(tmp_path / "tty"), running("run", str(path), "--no-page") as program:
        eventually("the file", data.exists, 60)
        reader = Reader(data)
        eventually("rows", lambda: len(reader.rows("bar", 0, 1 << 60)) > 0, 60)
        reader.close()
        made = once("backup", str(path), str(tmp_path))
        assert made.returncode == 0, made.stderr
        copy = next(tmp_path.glob("harbour-steps-2*.sqlite"))
        refused = once("restore", str(path), str(copy))
        assert program.stop() == 0
    done = once("restore", str(path), str(copy))

    assert made.returncode == 0, made.stderr
    assert "every page checked" in made.stdout
    assert refused.returncode == 2
    assert "already writes" in refused.stderr
    assert done.returncode == 0, done.stderr
    assert "is now" in done.stdout
    assert len(list(tmp_path.glob("*.replaced-*"))) == 1
