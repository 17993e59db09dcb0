"""The command `backtest` as a person runs it."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from dashboards.cli import main
from tests.end_to_end.commands import once
from tests.firmware_bridge.backtest.recorded_life import write_life


def asked(*words: str) -> Result:
    """The command's answer, in this process."""
    return CliRunner().invoke(main, ["backtest", *words])


@pytest.mark.timeout(60)  # two processes start and replay a life each
def test_the_installed_command_prints_the_tables_and_draws_the_plot(tmp_path: Path) -> None:
    """Two lives in two processes: tables on standard output, progress apart, an SVG."""
    write_life(tmp_path, "first")
    write_life(tmp_path, "second", medium="hydrogen")
    plot = tmp_path / "plot.svg"
    found = once("backtest", str(tmp_path), "--workers", "2", "--plot", str(plot))

    assert found.returncode == 0, found.stderr
    assert "hydrogen, pair" in found.stdout
    assert "sodium, pair" in found.stdout
    assert "counter" in found.stdout
    assert "Replaying" in found.stderr
    assert "Replaying" not in found.stdout
    assert ElementTree.parse(plot).getroot().tag.endswith("svg")


def test_json_holds_groups_lives_and_calibration(tmp_path: Path) -> None:
    """One life as JSON: every figure of the tables can be read by a program."""
    write_life(tmp_path, "only")
    found = asked(str(tmp_path), "--workers", "1", "--json")
    told = json.loads(found.stdout)

    assert found.exit_code == 0
    assert told["lives"][0]["name"] == "only"
    assert set(told["groups"][0]["error_pct"]) == {"75", "50", "25", "10"}
    assert sum(told["groups"][0]["pit_tenths_pct"]) == pytest.approx(100.0)


def test_a_folder_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    """Exit code 2, the folder's name, and what a life is."""
    found = asked(str(tmp_path / "nowhere"))

    assert found.exit_code == 2
    assert "nowhere is not there" in found.stderr
    assert "truth.json" in found.stderr


def test_a_file_in_place_of_a_folder_is_said_so(tmp_path: Path) -> None:
    """A recording's own file is no folder of lives."""
    life = write_life(tmp_path, "only")
    found = asked(str(life / "recording.csv.gz"))

    assert found.exit_code == 2
    assert "is no folder" in found.stderr


def test_recordings_without_truth_are_named(tmp_path: Path) -> None:
    """Where no life has truth, those that were found are named, with what they lack."""
    (write_life(tmp_path, "unknown") / "truth.json").unlink()
    found = asked(str(tmp_path))

    assert found.exit_code == 2
    assert "unknown: truth.json is not there" in found.stderr


@pytest.mark.parametrize("name", ["plot.png", "plot", "plot.pdf"])
def test_a_plot_that_is_no_svg_is_refused_before_anything_is_replayed(
    tmp_path: Path, name: str
) -> None:
    """Only SVG is drawn: said at once, with the mend."""
    write_life(tmp_path, "only")
    found = asked(str(tmp_path), "--plot", str(tmp_path / name))

    assert found.exit_code == 2
    assert ".svg" in found.stderr
    assert "Replaying" not in found.stderr


def test_a_plot_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    """A folder that is not there: exit code 2, said before anything is replayed."""
    write_life(tmp_path, "only")
    found = asked(str(tmp_path), "--workers", "1", "--plot", str(tmp_path / "no" / "plot.svg"))

    assert found.exit_code == 2
    assert "Choose another place" in found.stderr
    assert "Replaying" not in found.stderr
