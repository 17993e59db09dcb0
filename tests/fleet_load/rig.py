"""A whole fleet on this machine for a measurement: broker, records, ingest workers as processes."""

from __future__ import annotations

import asyncio
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import psutil
from sqlalchemy import func, select

from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.fleet.records.tables import chunks, sites
from tests.fleet_load.crowd import Crowd, Link, Site
from tests.fleet_load.templates import read_row, row_text
from tests.peers import Broker, TimeSeriesStore, broker, time_series_store
from tests.postgres import Postgres, postgres

FLEET = """
[company]
name = "Northgate Water Care"
newcomers = "adopt"
[broker]
host = "127.0.0.1"
port = {broker}
[records]
{records}
{series}
[page]
port = 0
"""
SERIES = '[series]\nurl = "http://127.0.0.1:{}"'
SETTINGS = (
    "max_queued_messages 20000", "max_queued_bytes 200000000", "max_inflight_messages 200",
    "set_tcp_nodelay true", "max_keepalive 300", "connection_messages false", "log_type error",
)  # fmt: skip
"""Of the broker, as `lastlitre fleet broker` writes them."""
PROBE = "probe"
"""A site that only shows that somebody listens."""
START = "from dashboards.cli import main; main()"


class WorkerProcess:
    """An ingest worker in a process of its own: the first is the whole fleet, pages, series and
    all, the others are further workers."""

    def __init__(self, fleet_file: Path, *, further: bool) -> None:
        self._file = fleet_file
        self._more = ["--ingest-only"] if further else []
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start, and wait until it has opened the records."""
        command = [sys.executable, "-c", START, "fleet", str(self._file), *self._more]
        with self._file.with_suffix(".log").open("a") as said:
            self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True)
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if "reading from" not in line:
            raise AssertionError(f"the worker did not start: {line}{self.said()}")

    def kill(self) -> None:
        """End it as a power cut would."""
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None

    def said(self) -> str:
        """Its log."""
        return self._file.with_suffix(".log").read_text(errors="replace")


class Rig:
    """The parts at work."""

    def __init__(self, folder: Path, broker: Broker, url: str, database: Postgres | None) -> None:
        self.folder = folder
        self.broker = broker
        self.url = url
        self.database = database
        self.series: TimeSeriesStore | None = None
        self.workers: list[WorkerProcess] = []

    def work(self, count: int = 1) -> None:
        """Start workers until there are so many."""
        path = self.folder / "fleet.toml"
        if not path.exists():
            path.write_text(self._fleet_file())
        while len(self.workers) < count:
            worker = WorkerProcess(path, further=bool(self.workers))
            worker.start()
            self.workers.append(worker)
            asyncio.run(_heard(self.broker.port))

    def cpu_s(self) -> dict[str, float]:
        """Processor seconds spent so far, by part."""
        spent = {"broker": _spent(self.broker.pid)}
        spent["ingest"] = sum(_spent(w.process.pid) for w in self.workers if w.process)
        if self.database is not None:
            spent["database"] = sum(_spent(pid) for pid in _family(self.database.pid))
        return spent

    @contextmanager
    def records(self) -> Iterator[Records]:
        """The records, for a look."""
        with open_records(self.url) as opened:
            yield opened

    def stop(self) -> None:
        """End the workers."""
        for worker in self.workers:
            worker.kill()

    def _fleet_file(self) -> str:
        records = (
            f'url = "{self.url}"' if self.database is not None
            else f'path = "{self.url.removeprefix("sqlite:///")}"'
        )  # fmt: skip
        series = SERIES.format(self.series.port) if self.series else ""
        return FLEET.format(broker=self.broker.port, records=records, series=series)


@contextmanager
def rig(*, postgresql: bool = False, series: bool = False) -> Iterator[Rig]:
    """Broker and records, in a folder that goes afterwards; workers are started by the caller."""
    more_files()
    with ExitStack() as parts:
        folder = Path(parts.enter_context(tempfile.TemporaryDirectory(prefix="fleet-load-")))
        serving = parts.enter_context(broker(folder / "broker", *SETTINGS))
        database = parts.enter_context(postgres()) if postgresql else None
        url = database.new_database() if database else f"sqlite:///{folder / 'fleet.sqlite'}"
        made = Rig(folder, serving, url, database)
        if series:
            made.series = parts.enter_context(
                time_series_store(
                    folder / "series", "-dedup.minScrapeInterval=1ms", "-retentionPeriod=100y"
                )
            )
        parts.callback(made.stop)
        yield made


def more_files() -> None:
    """As many open files as this user may have: a connection is one at either end."""
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))


def machine() -> dict[str, str]:
    """What else was going on."""
    return {"load before": f"{os.getloadavg()[0]:.1f}", "cores": str(os.cpu_count())}


def differences(records: Records, made: dict[str, Site]) -> list[str]:
    """What is kept held against what was made, row by row; no difference is an empty list."""
    found: list[str] = []
    with records.read() as connection:
        numbers = dict(connection.execute(select(sites.c.site, sites.c.site_no)).all())
        for name, site in made.items():
            asked = select(chunks.c.kind, chunks.c.body).where(
                chunks.c.site_no == numbers.get(name)
            )
            kept: dict[int, object] = {}
            twice = 0
            for _, body in connection.execute(asked):
                for row in unpacked(body):
                    twice += row.seq in kept
                    kept[row.seq] = row
            wrong = sum(
                kept.get(seq) != read_row(row_text(seq, site.begin_ms, site.mixed))
                for seq in range(1, site.made + 1)
            )
            if twice or wrong or len(kept) != site.made:
                found.append(
                    f"{name}: made {site.made}, kept {len(kept)}, twice {twice}, {wrong} wrong"
                )
    return found


def rows_kept(records: Records) -> int:
    """Rows in the records."""
    with records.read() as connection:
        asked = select(func.sum(chunks.c.rows)).join(sites).where(sites.c.site != PROBE)
        return int(connection.scalar(asked) or 0)


async def _heard(port: int, patience_s: float = 30.0) -> None:
    """Wait until workers listen: a site of our own is told that its row is safe."""
    crowd = Crowd(port)
    site = Site(PROBE, 0)
    link = Link(crowd, f"probe-{time.monotonic_ns()}", [site])
    await link.open()
    end_s = time.monotonic() + patience_s
    site.made = 1
    while not site.settled and time.monotonic() < end_s:
        site.again()
        link.pump()
        await asyncio.sleep(0.2)
    await crowd.leave()
    if not site.settled:
        raise TimeoutError("no worker answers")


def _spent(pid: int) -> float:
    times = psutil.Process(pid).cpu_times()
    return float(times.user + times.system)


def _family(pid: int) -> list[int]:
    return [pid, *(child.pid for child in psutil.Process(pid).children(recursive=True))]
