"""What pages cost: History over a year, a day and an hour; bytes on the wire; a paper.

python -m tests.bench pages        over 365 days; `main(30)` over a month
"""

from __future__ import annotations

import gzip
import tempfile
from collections.abc import Iterator
from pathlib import Path

import msgspec
import numpy as np

from analytics.samples import DAY_MS, HOUR_MS, Spread
from analytics.setup import LineSetup, SiteSetup
from dashboards.desk import Desk
from dashboards.page import Asked, Page, pages
from dashboards.store_source import StoreSource
from dashboards.taste import Taste
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader
from tests.bench.store import BEGIN_MS, LINE, fill, median_ms
from tests.dashboards.specimens import estimate

SPANS = ("hour", "day", "week", "90-days", "year", "all")


def site(path: Path, days: int) -> tuple[StoreSource, Reader]:
    """A stored year with an estimate an hour, as pages read it."""
    fill(path, days)
    _with_estimates(path, days)
    line = LineSetup(line_id=LINE, medium="hydrogen", capacity_mmol=4000.0, inlet_probe=True)
    setup = SiteSetup(site_id="bench", name="Bench", lines=(line,))
    reader = Reader(path)
    clock = VirtualClock(BEGIN_MS + days * DAY_MS, speed=0.0)
    return StoreSource(setup, reader, Live(), clock), reader


def _with_estimates(path: Path, days: int) -> None:
    rng = np.random.default_rng(4)
    plain = estimate()
    with Store.open(path, site_id="bench") as store:
        for day in range(days):
            store.submit(Batch(estimates=tuple(_day(plain, day, rng)))).result()


def _day(plain: msgspec.Struct, day: int, rng: np.random.Generator) -> Iterator[tuple]:
    for hour in range(24):
        at_ms = BEGIN_MS + day * DAY_MS + hour * HOUR_MS
        middle = 1.2 + 0.02 * rng.standard_normal()
        outlet = Spread(p50=middle, p05=middle - 0.1, p95=middle + 0.1)
        yield (
            LINE,
            msgspec.structs.replace(plain, at_ms=at_ms, known_at_ms=at_ms, outlet_mmol_l=outlet),
        )


def main(days: int = 365) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        source, reader = site(Path(name) / "site.db", days)
        desk = Desk(source, Taste(), lambda: 0.0)
        history = next(page for page in pages() if page.path == "/history")
        facts = source.facts()
        print(f"{days} days at 1 Hz; facts of the site {median_ms(source.facts):.1f} ms")
        for span in SPANS:
            asked = Asked(facts=facts, reader=Taste().reader(), source=source, query={"span": span})
            made = median_ms(lambda a=asked: history.answer(a), 5)
            html = _html(desk, history, asked)
            print(
                f"history {span:8} {made:7.0f} ms; {len(html) / 1000:6.0f} kB, "
                f"{len(gzip.compress(html)) / 1000:5.1f} kB on the wire"
            )
        reader.close()


def _html(desk: Desk, page: Page, asked: Asked) -> bytes:
    view = page.answer(asked)
    return str(view.chart.wide + view.chart.phone).encode()
