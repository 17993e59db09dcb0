"""The invented lives: their form, their books, and that a seed tells all."""

from __future__ import annotations

import csv
import gzip
import json
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from tests.lives.life import Course, make_life, wished
from tests.lives.plan import LAYOUTS, MEDIA, SCENARIOS, Wish
from tests.lives.writer import HEADER

pytestmark = pytest.mark.timeout(60)  # each life is a few seconds of PHREEQC

SEED = 7
SHORT = {
    "sodium": Wish(
        medium="sodium", layout="inlet+outlet", scenario="normal", litres=450, days=14, coarse=True
    ),
    "hydrogen": Wish(
        medium="hydrogen", layout="outlet", scenario="leak", litres=500, days=14, coarse=True
    ),
}
SITE_KEYS = [
    *("case", "medium", "capacity_basis", "rated_capacity_dH_litres", "bypass_setpoint"),
    *("k_factor_pulses_per_litre", "install_date", "utc_offset_hours", "layout"),
    *("utility_report", "drop_tests"),
]
TRUTH_KEYS = [
    *("medium", "scenario", "layout", "target", "raw_waters", "true_total_litres"),
    *("breakthrough", "threshold", "fresh_leakage_share", "capacity_error", "bypass_true"),
    *("k_factor_true", "outlet_cell_gain_at_start", "days", "milestones_percent_remaining"),
    *("events", "daily", "hourly"),
]

Built = dict[str, tuple[Course, Path]]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Two short lives and where their files are."""
    out = tmp_path_factory.mktemp("lives")
    made = {}
    for number, (medium, wish) in enumerate(SHORT.items()):
        course = make_life(out, out / ".cache", number, SEED, wish)
        made[medium] = course, out / course.plan.name
    return made


def _rows(folder: Path) -> list[dict[str, str]]:
    with gzip.open(folder / "recording.csv.gz", "rt") as packed:
        assert packed.readline().rstrip("\n") == HEADER
        return list(csv.DictReader(packed, fieldnames=HEADER.split(",")))


def _told(folder: Path, name: str) -> dict:
    return json.loads((folder / f"{name}.json").read_text())


@pytest.mark.parametrize("medium", SHORT)
def test_files_have_the_form_of_a_recording(built: Built, medium: str) -> None:
    """Times rise, a row comes at least each minute, pulses are whole, the files tell their all."""
    course, folder = built[medium]
    rows, site, truth = _rows(folder), _told(folder, "site"), _told(folder, "truth")
    times = [datetime.fromisoformat(row["time"]).timestamp() for row in rows]
    gaps = np.diff(times)

    assert gaps.min() >= 1
    assert np.sort(gaps)[-1 - len(course.happenings.outages)] <= 86400
    assert np.median(gaps[gaps > 30]) == 60
    assert all(row["flow_pulses"].isdigit() for row in rows)
    assert {row["inlet_temperature_C"] == "" for row in rows} == {not course.plan.pair}
    assert [key for key in site if key != "raw_water_reading"] == SITE_KEYS
    assert list(truth) == TRUTH_KEYS
    assert truth["breakthrough"]["within_record"]
    assert [event["kind"] for event in truth["events"]].count("breakthrough") == 1


def test_sodium_bed_gives_a_sodium_for_each_hardness_equivalent(built: Built) -> None:
    """What the bed keeps of calcium, magnesium and potassium leaves as sodium; chloride passes."""
    bed = built["sodium"][0].bed
    kept = (bed.raw - bed.treated) @ np.array([2, 2, 0, 1, 0, 0, 0, 0])
    gained = (bed.treated - bed.raw)[:, 2]

    assert kept.sum() == pytest.approx(gained.sum(), rel=0.01)
    assert bed.treated[:, 4].sum() == pytest.approx(bed.raw[:, 4].sum(), rel=0.01)


@pytest.mark.parametrize("medium", SHORT)
def test_bed_removes_no_more_than_its_sites_hold(built: Built, medium: str) -> None:
    """Hardness equivalents kept up to the end lie between half the sites and all of them."""
    course, _ = built[medium]
    bed, plan = course.bed, course.plan
    through = course.end.litres * (1 - plan.bypass_true)
    kept = (bed.raw - bed.treated) @ np.array([2, 2, 0, 0, 0, 0, 0, 0]) / 1000
    taken = float(kept[bed.litres < through].sum() * (bed.litres[1] - bed.litres[0]))

    assert 0.5 * plan.capacity_eq < taken < 1.02 * plan.capacity_eq


@pytest.mark.parametrize("medium", SHORT)
def test_truth_books_close(built: Built, medium: str) -> None:
    """Litres and what remains add up to the total; the pulses of the record are its litres."""
    course, folder = built[medium]
    truth = _told(folder, "truth")
    total = truth["true_total_litres"]
    young = [day for day in truth["daily"] if day["remaining_litres"] > 0]
    rows = _rows(folder)
    last = datetime.fromisoformat(rows[-1]["time"]) - course.plan.install
    edges = [last.total_seconds(), *np.ravel(course.happenings.outages)]
    passed = course.flow.litres(np.array(edges))
    lost = float(np.sum(passed[2::2] - passed[1::2]))
    counted = sum(int(row["flow_pulses"]) for row in rows) / truth["k_factor_true"]

    assert len(young) > 10
    assert [day["litres"] + day["remaining_litres"] for day in young] == pytest.approx(
        [total] * len(young), abs=0.2
    )
    assert counted + lost == pytest.approx(float(passed[0]), abs=0.5)


@pytest.mark.parametrize("medium", SHORT)
def test_end_is_where_a_fifth_has_come_back(built: Built, medium: str) -> None:
    """At the hour of the end the blended water reaches the limit, the hour before it does not."""
    course, folder = built[medium]
    truth = _told(folder, "truth")
    share, leak = truth["bypass_true"], truth["fresh_leakage_share"]
    limit = share + (1 - share) * (leak + 0.2 * (1 - leak))
    ratio = course.hours.blended_dh / course.hours.raw_dh

    assert ratio[course.end.hour] >= limit - 1e-3
    assert ratio[course.end.hour - 1] < limit + 1e-3


def test_same_seed_same_bytes_other_seed_other_life(built: Built, tmp_path: Path) -> None:
    """A life is told by its number, its seed and its wish alone."""
    course, folder = built["sodium"]
    make_life(tmp_path / "again", tmp_path / "cache", 0, SEED, SHORT["sodium"])
    make_life(tmp_path / "other", tmp_path / "cache", 0, SEED + 1, SHORT["sodium"])

    for name in ("recording.csv.gz", "site.json", "truth.json"):
        first = (folder / name).read_bytes()
        assert (tmp_path / "again" / course.plan.name / name).read_bytes() == first
        assert (tmp_path / "other" / course.plan.name / name).read_bytes() != first


def test_a_batch_holds_each_medium_with_each_layout_and_scenario() -> None:
    """Seventy-two lives in turn cover all combinations of medium and layout, and all scenarios."""
    batch = [wished(number) for number in range(72)]

    assert {(w.medium, w.layout) for w in batch} == {(m, p) for m in MEDIA for p in LAYOUTS}
    assert {w.scenario for w in batch} == set(SCENARIOS)
