"""Loading: a child compiles, the cache remembers, the daemon never holds pint."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from analytics.errors import ConfigError
from firmware_bridge.config import Site, load
from tests.firmware_bridge.config.site_files import GOOD, compiled

REPORT = """
import sys
from pathlib import Path
from firmware_bridge.config import load
site = load(sys.argv[1], Path(sys.argv[2]))
loaded = {name.split(".")[0] for name in sys.modules}
print(site.setup.name, len(site.wiring.sinks), sorted(loaded & {"pint", "paho", "influxdb_client"}))
"""


def written(folder: Path, text: str = GOOD) -> Path:
    path = folder / "bar.toml"
    path.write_text(text)
    return path


def the_kept(cache: Path) -> Path:
    (kept,) = cache.iterdir()
    return kept


def test_process_that_loads_a_site_does_not_load_pint(tmp_path: Path) -> None:
    """Neither when the child compiles nor out of the cache; nor any client library."""
    command = [sys.executable, "-c", REPORT, str(written(tmp_path)), str(tmp_path / "cache")]
    for _ in range(2):
        said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)

        assert said.stdout == "Harbour Steps 2 []\n"


def test_loaded_site_is_what_was_compiled(tmp_path: Path) -> None:
    """Through the child, through the cache, or in this process: the same site."""
    path = written(tmp_path)
    first, again = load(path, tmp_path / "cache"), load(path, tmp_path / "cache")
    here = compiled(GOOD, str(tmp_path))

    assert isinstance(here, Site)
    assert first == again
    assert (first.wiring, first.setup.lines) == (here.wiring, here.setup.lines)
    assert first.setup.dated == here.setup.dated


def test_faulty_file_is_one_error_with_every_fault(tmp_path: Path) -> None:
    """The faults come back from the child; the hint names the command that lists them."""
    path = written(tmp_path, GOOD.replace('"30 %"', "30").replace("57600", "5"))

    with pytest.raises(ConfigError, match="bypass = 30: a bare number") as caught:
        load(path, tmp_path / "cache")
    assert len(caught.value.faults) == 2
    assert caught.value.hint.endswith(f"lastlitre check {path}")
    assert not (tmp_path / "cache").exists()


def test_file_that_cannot_be_read_is_an_error(tmp_path: Path) -> None:
    """Before any child is started."""
    with pytest.raises(ConfigError, match="no such file"):
        load(tmp_path / "none.toml", tmp_path / "cache")


def test_changed_file_is_compiled_anew(tmp_path: Path) -> None:
    """And the cache does not grow with every change."""
    cache = tmp_path / "cache"
    path = written(tmp_path)
    load(path, cache)
    written(tmp_path, GOOD.replace('"30 %"', '"20 %"'))

    assert load(path, cache).setup.lines[0].bypass == pytest.approx(0.2)
    assert the_kept(cache).is_file()


@pytest.mark.parametrize("damage", ["empty", "cut", "flipped", "foreign"])
def test_damaged_cache_is_built_anew(tmp_path: Path, damage: str) -> None:
    """A cache is never a reason not to start, and never believed blindly."""
    cache = tmp_path / "cache"
    path = written(tmp_path)
    site = load(path, cache)
    kept = the_kept(cache)
    whole = kept.read_bytes()
    flipped = whole[:200] + bytes([whole[200] ^ 1]) + whole[201:]
    kept.write_bytes(
        {"empty": b"", "cut": whole[:-7], "flipped": flipped, "foreign": b"x" * 500}[damage]
    )

    assert load(path, cache) == site
    assert kept.read_bytes() == whole


def test_cache_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "cache").write_text("in the way")

    assert load(written(tmp_path), tmp_path / "cache").setup.name == "Harbour Steps"


def test_cache_folder_is_the_services_or_the_users(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the environment's usual names."""
    monkeypatch.delenv("CACHE_DIRECTORY", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    load(written(tmp_path))

    assert the_kept(tmp_path / "lastlitre").suffix == ".site"
