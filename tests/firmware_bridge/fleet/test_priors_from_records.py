"""What the records' cartridges teach, and how it gets into a new site's file."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from dashboards.cli import main
from firmware_bridge import config
from firmware_bridge.fleet.priors import Taught, as_csv, as_json, learnt_from
from firmware_bridge.fleet.records.engine import Records, open_records
from tests.recorded_cartridges import fill


def one(taught: Taught, medium: str, size: str, region: str) -> Any:
    """The prior of a kind in a region."""
    (found,) = (p for p in taught.priors if (p.medium, p.size, p.region) == (medium, size, region))
    return found


def test_records_teach_what_their_cartridges_delivered(records: Records) -> None:
    """Eighty cartridges: the kind that delivers four fifths in river water is seen to."""
    fill(records, 80)

    taught = learnt_from(records)

    prior = one(taught, "hydrogen", "3", "river")
    assert prior.learnt.share.p50 == pytest.approx(0.8, abs=0.06)
    assert prior.rated_mmol == 640.0
    assert taught.cartridges + taught.left_out == 80
    assert one(taught, "hydrogen", "3", "").learnt.relative_sd > prior.learnt.relative_sd


def test_sites_nobody_adopted_teach_nothing(records: Records) -> None:
    """A stranger cannot move what new sites are told."""
    fill(records, 30, state="unknown")

    assert learnt_from(records) == Taught(priors=(), cartridges=0, left_out=0)


@pytest.fixture(scope="module")
def fleet_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fleet file beside records that teach something."""
    folder = tmp_path_factory.mktemp("taught")
    with open_records(f"sqlite:///{folder / 'fleet.sqlite'}") as records:
        fill(records, 60)
    path = folder / "fleet.toml"
    path.write_text('[company]\nname = "Northgate Water Care"\n[broker]\nhost = "127.0.0.1"\n')
    return path


def asked(fleet_file: Path, *more: str) -> str:
    """What the command prints."""
    found = CliRunner().invoke(main, ["fleet", "priors", str(fleet_file), *more])
    assert found.exit_code == 0, found.output
    return found.output


def test_the_lines_for_a_new_site_are_what_its_file_takes(fleet_file: Path, tmp_path: Path) -> None:
    """Pasted into a site file they are read as the capacity and spread that were learnt."""
    lines = asked(fleet_file, "--medium", "hydrogen", "--size", "3", "--region", "river")
    site = tmp_path / "site.toml"
    site.write_text(
        f'[site]\nid = "new"\nname = "New"\n[[line]]\nid = "bar"\nmedium = "hydrogen"\n{lines}'
        '[[meter]]\nid = "node"\nline = "bar"\ndriver = "node-serial"\nport = "/dev/ttyACM0"\n'
    )

    (line,) = config.load(site).setup.lines

    told = json.loads(asked(fleet_file, "--form", "json"))
    (prior,) = (
        p
        for p in told["priors"]
        if (p["medium"], p["size"], p["region"]) == ("hydrogen", "3", "river")
    )
    assert line.capacity_mmol == pytest.approx(prior["stated_capacity_mmol"], rel=1e-3)
    assert line.capacity_relative_sd == pytest.approx(prior["stated_spread"], abs=6e-4)


def test_the_table_for_a_spreadsheet_holds_no_formula(fleet_file: Path) -> None:
    """A region's name is text whatever it begins with."""
    rows = list(csv.DictReader(io.StringIO(asked(fleet_file, "--form", "csv"))))

    assert {row["region"] for row in rows} == {"", "'=chalk", "granite", "river", "estuary"}
    assert all(0.3 < float(row["capacity_share_p50"]) < 1.5 for row in rows)


def test_a_person_reads_shares_of_the_rating(fleet_file: Path) -> None:
    """A line a kind and region, and how many cartridges could tell nothing."""
    said = asked(fleet_file)

    assert said.startswith("medium")
    assert "(a new one)" in said
    assert "cartridges tell something" in said


def test_a_kind_nobody_has_seen_is_told_with_what_there_is(fleet_file: Path) -> None:
    """Exit code 2 and the kinds that can be asked for."""
    found = CliRunner().invoke(main, ["fleet", "priors", str(fleet_file), "--medium", "mixed"])

    assert found.exit_code == 2
    assert "--medium hydrogen --size '3'" in found.output


def test_what_was_taught_goes_out_and_in_again(records: Records) -> None:
    """Nothing taught is an empty table, not a fault."""
    taught = learnt_from(records)

    assert as_csv(taught).count("\n") == 1
    assert json.loads(as_json(taught)) == {"priors": [], "cartridges": 0, "left_out": 0}
