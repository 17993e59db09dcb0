"""`lastlitre note` and `lastlitre logbook`, with and without a running daemon."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.commands import once, running
from tests.peers import eventually

pytestmark = pytest.mark.timeout(180)

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"
time_zone = "Europe/London"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"
start = "new"

[[meter]]
driver = "node-serial"
port = "tty"
"""


@pytest.fixture
def site_file(tmp_path: Path) -> Path:
    """A site whose node is not there."""
    path = tmp_path / "site.toml"
    path.write_text(SITE)
    return path


def test_notes_reach_the_file_with_and_without_a_daemon(site_file: Path) -> None:
    """Signed, in one chain; a running daemon takes them through its hatch."""
    test = ("drop-test", "point=blended", "hardness=9 dH")
    alone = once("note", str(site_file), *test, "--who", "Ada")
    with running("run", str(site_file), "--no-page") as daemon:
        hatch = site_file.parent / "harbour-steps.hatch"
        eventually("the hatch", hatch.exists, 60)
        mode = hatch.stat().st_mode & 0o777
        through = once("note", str(site_file), "bypass-set", "bypass=30 %", "--who", "Bo")
        undo = once("note", str(site_file), "--undo", "1", "--who", "Bo")
        wrong = once("note", str(site_file), "bypass-set", "bypass=30", "at=2099-01-01T00:00:00Z")
        future = once("note", str(site_file), *test, "at=2099-01-01T00:00:00Z")
        assert daemon.stop() == 0
    book = once("logbook", str(site_file))

    assert alone.stdout == "Entry 1, signed Ada.\n", alone.stderr
    assert mode == 0o600
    assert through.returncode == undo.returncode == 0, through.stderr + undo.stderr
    assert wrong.returncode == future.returncode == 2
    assert "a bare number without a unit" in wrong.stderr
    assert "lies ahead" in future.stderr
    assert book.returncode == 0, book.stderr
    assert "Drop test | by Ada" in book.stdout
    assert "Total hardness: 9.0 °dH" in book.stdout
    assert "Bypass turned | by Bo" in book.stdout
    assert "Entry taken back | by Bo | takes back entry 1" in book.stdout
    assert "The chain of all" in book.stdout
    assert not hatch.exists()


def test_keys_of_an_act_are_shown() -> None:
    """Each with an example and what it means."""
    shown = once("note", "--keys", "drop-test")
    unknown = once("note", "--keys", "kettle")

    assert 'hardness="18 dH"   Total hardness.' in shown.stdout
    assert unknown.returncode == 2
    assert "drop-test" in unknown.stderr
