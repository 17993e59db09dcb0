"""Broker, sites and the fleet of the demonstration, put together on one virtual clock."""

from __future__ import annotations

import asyncio
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

import msgspec
from sqlalchemy import insert, select

from analytics.errors import LastLitreError, LinkError
from analytics.samples import HOUR_MS
from firmware_bridge.clock import VirtualClock
from firmware_bridge.fleet.config import FleetFile
from firmware_bridge.fleet.house import Fleet
from firmware_bridge.fleet.records import people_rows, site_rows
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import held, sites
from firmware_bridge.fleet.virtual.plans import SitePlan, plans
from firmware_bridge.fleet.virtual.sites import COMPANY, Job
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.thrift import ALGEBRA_THREADS

SPEED: Final = 900.0
"""A quarter of an hour a second: a day in a minute and a half."""
PROCESSES: Final = 2
BUSY_L: Final = 26.0
"""Litres a day from which a site is tagged as busy."""
LATE_MS: Final = 5 * HOUR_MS
"""How far the sites may be behind the clock before it waits for them."""
NO_BROKER: Final = "Install it: apt-get install mosquitto (any system's package of that name does)."


class VirtualFleet:
    """It works in `with fleet.running()`; `keep_pace` moves its clock."""

    def __init__(
        self,
        folder: Path,
        *,
        speed: float = SPEED,
        seed: int = 1,
        count: int = 50,
        most_days: int = 90,
        broker: str = "mosquitto",
    ) -> None:
        """Nothing runs yet. Raises StoreError where the records cannot be opened."""
        self.plans = plans(seed, count)
        self.begin_ms = time.time_ns() // 1_000_000
        self.clock = VirtualClock(self.begin_ms, 0.0)
        self._speed = speed
        self._seed = seed
        self._most_days = most_days
        self._broker = broker
        self._folder = folder
        self._port = _free_port()
        self._reached = [0] * PROCESSES
        self._processes: list[subprocess.Popen[str]] = []
        self.fleet = Fleet(
            FleetFile(
                company=COMPANY,
                broker=MqttOptions(host="127.0.0.1", port=self._port),
                records_url=f"sqlite:///{folder / 'fleet.sqlite'}",
                folder=str(folder),
            ),
            now_ms=self.clock.now_ms,
        )

    @property
    def records(self) -> Records:
        """The fleet's records."""
        return self.fleet.records

    @contextmanager
    def running(self) -> Iterator[None]:
        """Broker, fleet and sites, until the end."""
        with _broker(self._broker, self._folder, self._port), self.fleet:
            self._enter_sites()
            try:
                for number in range(PROCESSES):
                    self._processes.append(self._start(number))
                yield
            finally:
                for process in self._processes:
                    _end(process)
                    if process.stdout is not None:
                        process.stdout.close()

    async def keep_pace(self, stop: asyncio.Event) -> None:
        """Move the clock on, but never far ahead of the sites; tell them what time it is."""
        readers = [
            asyncio.create_task(asyncio.to_thread(self._follow, number))
            for number in range(len(self._processes))
        ]
        while not stop.is_set():
            reached = min(self._reached)
            room = reached >= self.begin_ms and self.clock.now_ms() - reached < LATE_MS
            self.clock.speed = self._speed if room else 0.0
            for process in self._processes:
                _tell(process, self.clock.now_ms())
            await _pause(stop, 0.1)
        for process in self._processes:
            await asyncio.to_thread(_end, process)
        await asyncio.gather(*readers)

    @property
    def caught_up(self) -> bool:
        """Whether all sites have lived up to the beginning."""
        return min(self._reached) >= self.begin_ms

    def _follow(self, number: int) -> None:
        """Up to which instant a process has lived, line by line."""
        process = self._processes[number]
        assert process.stdout is not None
        for line in process.stdout:
            if line.strip().isdigit():
                self._reached[number] = int(line)

    def _start(self, number: int) -> subprocess.Popen[str]:
        alike = sorted(self.plans, key=lambda plan: (plan.kind.medium, plan.region, plan.number))
        share = -(-len(alike) // PROCESSES)  # those alike share the curves of their beds
        mine = tuple(plan.number for plan in alike[number * share : (number + 1) * share])
        job = Job(
            seed=self._seed,
            numbers=mine,
            begin_ms=self.begin_ms,
            most_days=self._most_days,
            broker_port=self._port,
            folder=str(self._folder),
        )
        log = (self._folder / f"sites-{number}.log").open("w")
        with closing(log):
            process = subprocess.Popen(
                [sys.executable, "-m", "firmware_bridge.fleet.virtual.sites"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env={ALGEBRA_THREADS: "1"} | os.environ,
                start_new_session=True,  # Ctrl-C is for us; they end when their input does
            )
        assert process.stdin is not None
        process.stdin.write(msgspec.json.encode(job).decode() + "\n")
        process.stdin.flush()
        return process

    def _enter_sites(self) -> None:
        """What the company's people entered about its sites."""
        with self.records.begin() as connection:
            known = set(connection.scalars(select(sites.c.site)))
            for plan in self.plans:
                if not plan.adopted or plan.site_id in known:
                    continue
                customer_no = None
                if plan.customer:
                    customer_no = people_rows.customer_named(connection, plan.customer)
                row = _entered(plan, customer_no)
                connection.execute(insert(sites), row)
                asked = select(sites.c.site_no).where(sites.c.site == plan.site_id)
                number = connection.execute(asked).scalar_one()
                connection.execute(insert(held), {"site_no": number})
                site_rows.set_tags(connection, number, _tags(plan))


def _entered(plan: SitePlan, customer_no: int | None) -> dict[str, object]:
    return {
        "site": plan.site_id, "state": "adopted", "name": plan.name, "region": plan.region,
        "latitude": plan.latitude, "longitude": plan.longitude, "address": plan.address,
        "customer_no": customer_no,
    }  # fmt: skip


def _tags(plan: SitePlan) -> list[str]:
    found = {"busy": plan.litres_a_day > BUSY_L, "one probe": not plan.pair}
    return [tag for tag, here in found.items() if here]


@contextmanager
def _broker(name: str, folder: Path, port: int) -> Iterator[None]:
    """A broker of our own for the demonstration, on this machine only."""
    program = shutil.which(name) or shutil.which(name, path="/usr/sbin")
    if program is None:
        raise LinkError(
            f"The demonstration of a fleet needs the MQTT broker {name}, which is not here.",
            NO_BROKER,
        )
    settings = folder / "broker.conf"
    settings.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
        "max_queued_messages 20000\nset_tcp_nodelay true\nlog_type error\n"
    )
    with (folder / "broker.log").open("w") as log:
        process = subprocess.Popen(
            [program, "-c", str(settings)], stdout=log, stderr=log, start_new_session=True
        )
    try:
        _wait_for(port, process, folder / "broker.log")
        yield
    finally:
        process.terminate()
        process.wait()


def _wait_for(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    end_s = time.monotonic() + 20.0
    while time.monotonic() < end_s and process.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise LastLitreError(f"The broker did not start: {log.read_text()}", "See whether it runs.")


def _free_port() -> int:
    with socket.socket() as line:
        line.bind(("127.0.0.1", 0))
        return int(line.getsockname()[1])


def _tell(process: subprocess.Popen[str], now_ms: int) -> None:
    """Tell a process what time it is; raises LastLitreError where it has ended."""
    assert process.stdin is not None
    try:
        process.stdin.write(f"{now_ms}\n")
        process.stdin.flush()
    except BrokenPipeError as exc:
        raise LastLitreError(
            "The virtual sites have ended.", "See the logs in the demonstration's folder."
        ) from exc


def _end(process: subprocess.Popen[str]) -> None:
    """Close its input, which ends it; it has some seconds for what it still has to send."""
    if process.stdin is not None and not process.stdin.closed:
        with suppress(BrokenPipeError):
            process.stdin.close()
    try:
        process.wait(15.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


async def _pause(stop: asyncio.Event, seconds: float) -> None:
    try:
        await asyncio.wait_for(stop.wait(), seconds)
    except TimeoutError:
        return
