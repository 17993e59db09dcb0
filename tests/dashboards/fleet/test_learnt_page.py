"""The page of what cartridges really deliver, and its files."""

from __future__ import annotations

import csv
import html
import io
import json
import re

import pytest

from firmware_bridge.fleet.priors import learnt_from, site_file_lines
from tests.dashboards.fleet.stocked import Stock, signed_in
from tests.recorded_cartridges import fill


@pytest.mark.parametrize("role", ["owner", "dispatcher", "technician"])
async def test_what_was_learnt_stands_beside_the_rating(fleet: Stock, role: str) -> None:
    """Kind, region, rating, share with its range, how many cartridges, lines for a new site."""
    fill(fleet.records, 60)
    (river,) = (
        one
        for one in learnt_from(fleet.records).priors
        if (one.medium, one.size, one.region) == ("hydrogen", "3", "river")
    )
    async with signed_in(fleet.app(), role) as client:
        page = html.unescape((await client.get("/learnt?region=river")).text)
        parts = (await client.get("/parts")).text

    share, ended, early = river.learnt.share, river.learnt.ended, river.learnt.taken_early
    row = next(row for row in re.findall(r"<tr>.*?</tr>", page, re.S)
               if "size 3" in row and ">river<" in row)  # fmt: skip
    assert f"<b>{100 * share.p50:.0f}\u202f%</b>" in row
    assert f"{100 * share.p05:.0f}\u2013{100 * share.p95:.0f}\u202f%" in row
    assert f"{ended + early}: {ended} to the end, {early} taken out before" in row
    assert site_file_lines(river) in row
    assert "any new region" in page
    assert ">granite</td>" not in page
    assert 'href="/learnt"' in parts


async def test_what_was_learnt_is_taken_along(fleet: Stock) -> None:
    """As CSV and as JSON, the same figures in both."""
    fill(fleet.records, 30)
    async with signed_in(fleet.app(), "dispatcher") as client:
        table = await client.get("/learnt.csv")
        document = await client.get("/learnt.json")

    rows = list(csv.DictReader(io.StringIO(table.text)))
    priors = json.loads(document.text)["priors"]
    assert len(rows) == len(priors) > 4
    assert [float(row["capacity_share_p50"]) for row in rows] == pytest.approx(
        [prior["learnt"]["share"]["p50"] for prior in priors], abs=1e-4
    )
    assert document.headers["content-disposition"] == 'attachment; filename="learnt.json"'
    assert not any(row["region"].startswith("=") for row in rows)


async def test_a_fleet_that_learnt_nothing_says_so(fleet: Stock) -> None:
    """No table, but the sentence with what new sites begin with."""
    fleet.site("steps")
    async with signed_in(fleet.app(), "owner") as client:
        page = (await client.get("/learnt")).text

    assert "No cartridge has told yet" in page
    assert "<table" not in page
