"""Measured: the pages of a large fleet, and a year of many sites, written and asked for."""

from __future__ import annotations

import asyncio
import random
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import msgspec
import numpy as np
from sqlalchemy import func, insert, select

from analytics.fleet.distance import Place
from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from dashboards.fleet.roles import DISPATCHER, WAYS, may
from firmware_bridge.fleet.ingest.rows import encoded, packed, unpacked
from firmware_bridge.fleet.priors import learnt_from
from firmware_bridge.fleet.records import tables
from firmware_bridge.forward.payloads import BatchRow, Card
from firmware_bridge.forward.sink import LineCard
from tests.dashboards.fleet.stocked import (
    NOW_MS,
    Stock,
    estimate_row,
    line_values,
    signed_in,
    stock,
)
from tests.fleet_load.templates import read_row, texts
from tests.fleets import KINDS, REGIONS, fleet

SEA = Place(latitude=-32.0, longitude=-18.0)
TOGETHER = 2000
NO_PAGES = ("/", "/sign-in", "/invited", "/round.ics", "/round/print")
"""What leads elsewhere, or is there only once a round was planned."""


def pages(sites: int = 10_000, times: int = 12) -> dict[str, float]:
    """Seconds of each page for a dispatcher, 95th percentile over so many calls."""
    with tempfile.TemporaryDirectory() as folder, stock(Path(folder)) as stocked:
        fill(stocked, sites)
        return asyncio.run(_pages(stocked, sites, times))


async def _pages(stocked: Stock, sites: int, times: int) -> dict[str, float]:
    found: dict[str, float] = {"sites": float(sites)}
    all_ms: list[float] = []
    async with signed_in(stocked.app(), DISPATCHER) as client:
        for path in asked_for(sites):
            spent = [await _spent_ms(client, path) for _ in range(times)]
            all_ms += spent[1:] if "." not in path else []
            found[f"{path}, 95 %, ms"] = float(np.quantile(spent[1:], 0.95))
    found["all pages, 95 %, ms"] = float(np.quantile(all_ms, 0.95))
    return found


def asked_for(sites: int) -> list[str]:
    """Every page a dispatcher may read, and a few of the list of sites."""
    plain = [
        way.path.replace("{site_no:int}", str(sites // 2))
        for way in WAYS
        if way.method == "GET" and may(DISPATCHER, way.path)
    ]
    usable = [p for p in plain if "{" not in p and p not in NO_PAGES and "/paper" not in p]
    return [*usable, "/sites?text=site-0420", f"/sites?page={sites // 200}", "/sites?sort=end"]


async def _spent_ms(client: httpx.AsyncClient, path: str) -> float:
    begun = time.perf_counter()
    answer = await client.get(path, follow_redirects=True)
    spent = 1000.0 * (time.perf_counter() - begun)
    if answer.status_code >= 400:
        raise AssertionError(f"{path}: {answer.status_code} {answer.text[:200]}")
    return spent


def fill(stocked: Stock, count: int) -> None:
    """Sites with a line each, as ingest leaves them, in few statements."""
    chance = random.Random(4)
    regions, kinds = list(REGIONS), [kind.split() for kind in KINDS]
    for begin in range(0, count, TOGETHER):
        numbers = range(begin + 1, min(begin + TOGETHER, count) + 1)
        rows: list[dict[str, Any]] = []
        lines: list[dict[str, Any]] = []
        for number in numbers:
            medium, size = chance.choice(kinds)
            heard = NOW_MS - (
                round(9 * DAY_MS * chance.random()) if number % 97 == 0 else MINUTE_MS
            )
            name = f"site-{number:05d}"
            line = LineCard(line_id="bar", medium=medium, size=size, capacity_mmol=640.0)
            card = Card(site=name, name=name, service="Northgate Water Care", lines=(line,))
            rows.append({
                "site_no": number, "site": name, "state": "adopted", "name": name,
                "heard_ms": heard, "first_heard_ms": heard - 300 * DAY_MS, "online": True,
                "card": msgspec.json.encode(card).decode(), "region": chance.choice(regions),
                "latitude": SEA.latitude + chance.gauss(0.0, 0.2),
                "longitude": SEA.longitude + chance.gauss(0.0, 0.2),
            })  # fmt: skip
            days = chance.uniform(-3.0, 180.0)
            told = estimate_row(heard - HOUR_MS, days, spread=2.0 + 0.15 * max(days, 0.0))
            usual = {"medium": medium, "size": size, "cartridge": "c1", "capacity_mmol": 640.0,
                     "fitted_ms": heard - 40 * DAY_MS}  # fmt: skip
            lines.append(line_values(told, site_no=number, line="bar", **usual))
        with stocked.records.begin() as connection:
            connection.execute(insert(tables.sites), rows)
            connection.execute(insert(tables.held), [{"site_no": n} for n in numbers])
            connection.execute(insert(tables.lines), lines)


def year(sites: int = 1000, days: int = 365, readings_days: int = 90) -> dict[str, float]:
    """A year of draws and estimates, and readings as long as they are kept as they came."""
    with tempfile.TemporaryDirectory() as folder, stock(Path(folder)) as stocked:
        begun = time.perf_counter()
        fill(stocked, sites)
        rows = _history(stocked, sites, days, readings_days)
        _cartridges(stocked, sites)
        written_s = time.perf_counter() - begun
        size = sum(p.stat().st_size for p in Path(folder).glob("fleet.sqlite*"))
        found = {
            "sites": float(sites),
            "rows": float(rows),
            "written in, s": written_s,
            "size, MB": size / 1e6,
            **_asked(stocked, sites),
        }
        found |= asyncio.run(_pages(stocked, sites, 6))
        return found


def _history(stocked: Stock, sites: int, days: int, readings_days: int) -> int:
    """Rows of a year; sites of one pattern have the same bodies, each its own rows."""
    chunks = list(_year_of_chunks(days, readings_days))
    for begin in range(0, sites, 20):
        numbers = range(begin + 1, min(begin + 20, sites) + 1)
        rows = [
            {"site_no": number, "line": "bar", **chunk} for number in numbers for chunk in chunks
        ]
        with stocked.records.begin() as connection:
            connection.execute(insert(tables.chunks), rows)
    return sites * sum(chunk["rows"] for chunk in chunks)


def _year_of_chunks(days: int, readings_days: int) -> Iterator[dict[str, Any]]:
    """A day of each kind at a time: 60 draws, 24 estimates, a reading a minute."""
    texts_ = texts()
    seq = 0
    for day in range(days):
        begin = NOW_MS - (days - day) * DAY_MS
        kinds = [("draw", 60, lambda i: texts_.draw), ("estimate", 24, lambda i: texts_.estimate)]
        if day >= days - readings_days:
            kinds.append(("reading", 1440, lambda i: texts_.rows[i % len(texts_.rows)]))
        for kind, count, text_of in kinds:
            rows: list[BatchRow] = []
            for i in range(count):
                seq += 1
                rows.append(read_row(text_of(i) % (seq, begin + i * DAY_MS // count)))
            yield {
                "kind": kind, "first": rows[0].seq, "last": rows[-1].seq, "rows": count,
                "from_ms": rows[0].at_ms, "to_ms": rows[-1].at_ms, "body": packed([encoded(rows)]),
            }  # fmt: skip


def _cartridges(stocked: Stock, sites: int) -> None:
    """Two cartridges a site that have served, as a simulated fleet's."""
    rows = [
        {
            "site_no": i // 2 % sites + 1, "line": "bar", "cartridge": f"C{i}",
            "medium": each.kind.split()[0], "size": each.kind.split()[1], "capacity_mmol": 640.0,
            "fitted_ms": NOW_MS - (300 - 100 * (i % 2)) * DAY_MS, "removed_ms": NOW_MS,
            "reached_end": each.reached_end, "delivered_mmol_p05": each.delivered.p05,
            "delivered_mmol_p50": each.delivered.p50, "delivered_mmol_p95": each.delivered.p95,
        }
        for i, each in enumerate(fleet(2 * sites, 1).served)
    ]  # fmt: skip
    with stocked.records.begin() as connection:
        connection.execute(insert(tables.cartridges), rows)


def _asked(stocked: Stock, sites: int) -> dict[str, float]:
    """Milliseconds of questions of history."""
    number = sites // 2
    found = {
        "a year of estimates of a site, ms": _rows_of(stocked, number, "estimate", 366),
        "a year of draws of a site, ms": _rows_of(stocked, number, "draw", 366),
        "a month of readings of a site, ms": _rows_of(stocked, number, "reading", 30),
    }
    begun = time.perf_counter()
    with stocked.records.read() as connection:
        asked = select(tables.chunks.c.kind, func.sum(tables.chunks.c.rows))
        connection.execute(asked.group_by(tables.chunks.c.kind)).all()
    found["rows of all sites counted, ms"] = 1000.0 * (time.perf_counter() - begun)
    begun = time.perf_counter()
    taught = learnt_from(stocked.records)
    found["cartridges learnt from"] = float(taught.cartridges)
    found["fleet learning, ms"] = 1000.0 * (time.perf_counter() - begun)
    return found


def _rows_of(stocked: Stock, number: int, kind: str, days: int) -> float:
    begun = time.perf_counter()
    c = tables.chunks.c
    asked = select(c.body).where(
        c.site_no == number, c.line == "bar", c.kind == kind, c.to_ms >= NOW_MS - days * DAY_MS
    )
    with stocked.records.read() as connection:
        rows = [row for body in connection.scalars(asked) for row in unpacked(body)]
    if not rows:
        raise AssertionError(f"no {kind} of site {number}")
    return 1000.0 * (time.perf_counter() - begun)
