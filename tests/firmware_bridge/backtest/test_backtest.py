"""The back-test: lives found, replayed, scored beside a plain counter, told as text, JSON, SVG."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest

from analytics.samples import DropTest, Point, UtilityReport
from analytics.setup import CapacityKind, LineSetup
from firmware_bridge.backtest import Report, backtest
from firmware_bridge.backtest.calibration import off_flat, tenths_pct
from firmware_bridge.backtest.counter import set_counter
from firmware_bridge.backtest.faults import NothingToScoreError, TruthError
from firmware_bridge.backtest.runner import find_lives
from firmware_bridge.backtest.truth import read_truth
from tests.firmware_bridge.backtest.recorded_life import TOTAL_L, write_life

DH = 0.178326
Told = tuple[int, int]


pytestmark = pytest.mark.timeout(120)  # whole lives are replayed


@pytest.fixture(scope="module")
def two_lives(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Report, list[Told]]:
    """Two lives weighed in two worker processes, and what was told on the way."""
    folder = tmp_path_factory.mktemp("lives")
    write_life(folder, "first")
    write_life(folder, "second", medium="hydrogen")
    seen: list[Told] = []
    report = backtest(folder, lambda done, total, name: seen.append((done, total)), workers=2)
    return folder, report, seen


def test_a_folder_of_lives_gives_a_table_per_medium_beside_the_counter(
    two_lives: tuple[Path, Report, list[Told]],
) -> None:
    """Text, JSON and plot tell of both."""
    _, report, seen = two_lives
    groups = json.loads(report.json())["groups"]

    assert seen == [(1, 2), (2, 2)]
    assert [g["group"] for g in groups] == ["all", "pair", "hydrogen, pair", "sodium, pair"]
    assert groups[0]["lives"] == 2
    assert groups[0]["error_pct"]["50"] is not None
    assert groups[0]["counter_error_pct"]["50"] is not None
    assert "sodium, pair" in report.text()
    assert ElementTree.fromstring(report.plot()).tag.endswith("svg")


def test_the_same_life_gives_the_same_scores_and_its_switch_is_named_within_a_day(
    two_lives: tuple[Path, Report, list[Told]], tmp_path: Path
) -> None:
    """Chance is seeded: a back-test can be repeated, in this process or another; the step of both
    probes by a quarter is called another raw water, once."""
    _, report, _ = two_lives
    shutil.copytree(two_lives[0] / "first", tmp_path / "first")
    again = backtest(tmp_path, workers=1)
    row = again.rows()[0]

    assert again.scores[0].errors == report.scores[0].errors
    assert again.scores[0].inside == report.scores[0].inside
    assert (row.switches, row.named_24h, row.named_72h) == (1, 1, 1)
    assert row.false_changes_a_year == 0.0


def test_a_folder_without_truth_is_said_so_with_what_a_life_is(tmp_path: Path) -> None:
    """Nothing to score is an error with a mend, not an empty table."""
    with pytest.raises(NothingToScoreError, match="no recording with truth") as caught:
        backtest(tmp_path)

    assert "truth.json" in caught.value.hint


def test_what_cannot_be_scored_is_left_out_counted_and_named(tmp_path: Path) -> None:
    """One life without its recording, one without truth, one with a broken truth: the fourth is
    scored, and the report says why the others are not."""
    whole = write_life(tmp_path, "whole")
    (write_life(tmp_path, "torn") / "recording.csv.gz").unlink()
    (write_life(tmp_path, "unknown") / "truth.json").unlink()
    (write_life(tmp_path, "broken") / "truth.json").write_text("{}")
    report = backtest(tmp_path, workers=1)

    assert whole in find_lives(tmp_path)
    assert [s.name for s in report.scores] == ["whole"]
    assert {one.name for one in report.left_out} == {"torn", "unknown", "broken"}
    assert "3 recordings were left out" in report.text()
    assert "unknown: truth.json is not there" in report.text()
    assert len(json.loads(report.json())["left_out"]) == 3


def test_calibration_of_an_honest_range_is_flat_and_of_a_narrow_one_is_not() -> None:
    """Even places of truth give ten equal tenths; truth at the edges alone is far off."""
    even = [(k + 0.5) / 100 for k in range(100)]

    assert tenths_pct(even) == pytest.approx([10.0] * 10)
    assert (off_flat(even) or 0.0) < 0.02
    assert tenths_pct([0.0, 1.0]) == (50.0, *[0.0] * 8, 50.0)
    assert (off_flat([0.001, 0.001, 0.999]) or 0.0) > 0.5
    assert off_flat([]) is None


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"hourly": 3}'])
def test_a_damaged_truth_names_the_file(tmp_path: Path, text: str) -> None:
    """A truth that is none is an error naming the file."""
    life = write_life(tmp_path, "only")
    (life / "truth.json").write_text(text)

    with pytest.raises(TruthError, match=r"truth\.json"):
        read_truth(life / "truth.json")


def test_marks_lie_where_the_true_litres_say(tmp_path: Path) -> None:
    """Half of 320 L is left when 160 L have passed: after four of eight days."""
    truth = read_truth(write_life(tmp_path, "only") / "truth.json")
    half = truth.when_left(0.5)

    assert half is not None
    assert float(truth.litres_at([half])[0]) == pytest.approx(0.5 * TOTAL_L, abs=0.1)
    assert half - truth.begin_ms == pytest.approx(4 * 86_400_000, abs=60_000)


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        (CapacityKind.TOTAL, 4000 / (13 * 0.8)),
        (CapacityKind.CARBONATE, 4000 / (10 * 0.8)),
        (CapacityKind.CALCIUM, 4000 / (13 * 0.75 * 0.8)),
    ],
)
def test_the_counter_is_set_by_rated_capacity_first_test_and_bypass(
    kind: CapacityKind, expected: float
) -> None:
    """4000 dH*L over the hardness that the bed takes, one figure for the whole life."""
    line = LineSetup(
        line_id="a",
        medium="sodium",
        capacity_mmol=4000 * DH,
        capacity_kind=kind,
        bypass=0.2,
    )
    report = UtilityReport(
        at_ms=0, hardness_mmol_l=12 * DH, calcium_mmol_l=9 * DH, magnesium_mmol_l=3 * DH
    )
    test = DropTest(at_ms=1, point=Point.RAW, hardness_mmol_l=13 * DH, alkalinity_meq_l=20 * DH)
    counter = set_counter(line, (report, test))

    assert counter is not None
    assert counter.total_l == pytest.approx(expected)
