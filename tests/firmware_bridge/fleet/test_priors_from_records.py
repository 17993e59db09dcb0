"""What the records' cartridges teach, and how it gets into a new site's file."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import insert

from dashboards.cli import main
from firmware_bridge import config
from firmware_bridge.fleet.priors import Taught, as_csv, as_json, learnt_from
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.fleet.records.tables import cartridges, sites
from firmware_bridge.forward.payloads import card_message
from firmware_bridge.forward.sink import LineCard, SiteCard
from tests.fleets import fleet

CHALK = "=chalk"
"""A region whose name a spreadsheet would take for a formula."""


def fill(records: Records, count: int, **more: Any) -> None:
    """Cartridges of a simulated fleet, one site a region; sizes are the second word of a kind."""
    simulated = fleet(count, 2)
    regions = sorted({each.region for each in simulated.served})
    with records.begin() as connection:
        for number, region in enumerate(regions, 1):
            line = LineCard(line_id="bar", medium="hydrogen", capacity_relative_sd=0.1)
            card = SiteCard(site_id=region, lines=(line,))
            row = {
                "site_no": number, "site": region, "state": "adopted",
                "region": CHALK if region == "chalk" else region,
                "card": card_message(card, "lastlitre").payload.decode(),
            }  # fmt: skip
            connection.execute(insert(sites), row | more)
        for number, each in enumerate(simulated.served):
            medium, size = each.kind.split()
            row = {
                "site_no": regions.index(each.region) + 1, "line": "bar",
                "cartridge": f"C{number}", "medium": medium, "size": size,
                "capacity_mmol": each.rated_mmol, "fitted_ms": number,
                "removed_ms": number + 1, "reached_end": each.reached_end,
                "delivered_mmol_p05": each.delivered.p05,
                "delivered_mmol_p50": each.delivered.p50,
                "delivered_mmol_p95": each.delivered.p95,
            }  # fmt: skip
            connection.execute(insert(cartridges), row)


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
