"""A line to be fitted: a running site with its store, logbook and pages, and meters whose rows are
what a test says the water is."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from analytics.chemistry.kcl import standard_us_cm
from analytics.samples import Rows
from analytics.setup import LineSetup, SiteSetup
from dashboards.commissioning.notebook import Notebook
from dashboards.serving import PageServer, listen
from dashboards.store_source import StoreSource
from dashboards.web import create_app
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.logbook.book import Logbook
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from tests.dashboards.access.served import door
from tests.dashboards.specimens import line_setup

START_MS = 1_777_386_720_000  # Tuesday 28 April 2026, 14:32 UTC
K = 450.0
GAIN_OUT, GAIN_IN = 0.97, 1.02
STANDARD_C = 22.0


def setup_of(**changes: object) -> SiteSetup:
    """A cafe with one line: a hydrogen cartridge between two probes."""
    line: LineSetup = line_setup(
        line_id="bar", pulses_per_l=K, machines=("two groups",), litres_a_day=85.0, **changes
    )
    return SiteSetup(
        site_id="harbour-steps",
        name="Harbour Steps",
        what="café",
        service="Northgate Water Care",
        lines=(line,),
    )


class Hands(VirtualClock):
    """A clock that moves when told."""

    def __init__(self) -> None:
        super().__init__(START_MS, 0.0)
        self.gone_ms = 0

    def now_ms(self) -> int:
        """The instant now."""
        return START_MS + self.gone_ms


class Rig:
    """A site that runs in its own thread once `pages` is entered."""

    def __init__(self, folder: Path, setup: SiteSetup | None = None) -> None:
        self.setup = setup or setup_of()
        self.path = folder / "harbour.sqlite"
        self.store = Store.open(self.path, site_id=self.setup.site_id)
        self.clock = Hands()
        self.folder = folder
        self.notebook = Notebook(self.path)
        live = Live()
        self.loop = SiteLoop(self.setup, self.store, self.clock, live)
        self.book = Logbook(self.setup, self.store.reader(), self.loop, self.clock)
        self.reader = self.store.reader()
        source = StoreSource(self.setup, self.store.reader(), live, self.clock)
        self._ticks = iter(range(10**9))
        self.app = create_app(
            source,
            access=door(folder, all_may_look=True),
            book=self.book,
            clock=lambda: float(next(self._ticks)),
            bench=self.store.reader(),
            notebook=self.notebook,
        )
        self._seq = 0

    def water(
        self,
        outlet: float,
        inlet: float | None = None,
        *,
        temp_c: float = 14.0,
        seconds: int = 45,
        pulses: int = 0,
        ahead: int = 3,
    ) -> None:
        """Half a minute, a row a second: true conductivity at this temperature at each probe, and
        pulses that came in it. The clock goes on with it, but for the last rows."""
        first = self.clock.now_ms() + 1000
        if self._seq:
            first = max(first, self._last_ms + 1000)
        at_ms = first + 1000 * np.arange(seconds, dtype=np.int64)
        counts = np.zeros(seconds, dtype=np.int64)
        running = max(seconds - 8, 1)
        counts[:running] = pulses // running
        counts[0] += pulses - int(counts.sum())
        wave = 1.0 + 2e-4 * np.sin(np.arange(seconds))
        inside = outlet if inlet is None else inlet
        rows = Rows(
            at_ms=at_ms,
            outlet_us_cm=outlet / GAIN_OUT * wave,
            outlet_temp_c=np.full(seconds, temp_c),
            inlet_us_cm=inside / GAIN_IN * wave,
            inlet_temp_c=np.full(seconds, temp_c),
            pulses=counts,
            flags=np.zeros(seconds, dtype=np.int64),
        )
        frames = self._seq + 1 + np.arange(seconds, dtype=np.int64)
        self._seq += seconds
        self._last_ms = int(at_ms[-1])
        taken = Taken(
            line_id="bar", rows=rows, boot_id=1, uptime_ms=at_ms - START_MS, frame_seq=frames
        )
        self.store.submit(Batch(readings=(taken,))).result(20)
        self.clock.gone_ms = self._last_ms - 1000 * ahead - START_MS

    def standard(self) -> None:
        """Both probes in a 1413 standard."""
        self.water(float(standard_us_cm(1413.0, STANDARD_C)), temp_c=STANDARD_C)

    @contextmanager
    def pages(self) -> Iterator[str]:
        """The pages and the site behind a real socket; gives the address without a path."""
        listener = listen("127.0.0.1", 0)
        server = PageServer(self.app, signals=False)

        async def both() -> None:
            running = asyncio.create_task(self.loop.run())
            await server.serve(sockets=[listener])
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)

        thread = threading.Thread(target=lambda: asyncio.run(both()))
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            server.stop()
            thread.join(20)
            self.close()

    def close(self) -> None:
        """Close the file."""
        self.reader.close()
        self.store.close()
