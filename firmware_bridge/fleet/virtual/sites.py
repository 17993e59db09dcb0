"""Virtual sites at work in a process of their own: real pipeline, real store, real sender.

    python -m firmware_bridge.fleet.virtual.sites      a Job as JSON on the first line of input;
                                                       then virtual instants, one a line, until
                                                       the input ends

It says, a line each second, up to which instant all its sites have lived.
"""

from __future__ import annotations

import asyncio
import random
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from analytics.pipeline import Block, LineState, advance, start
from analytics.samples import DAY_MS, HOUR_MS, AnyEvent, Rows, join_rows, no_rows
from analytics.setup import Limits, LineSetup, LocalTime, SiteSetup
from firmware_bridge.fleet.virtual.cafe_days import CafeDays, Course, DayOfRows
from firmware_bridge.fleet.virtual.plans import SitePlan, plans
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.runner import Forwarder, Pace
from firmware_bridge.forward.sink import card_of
from firmware_bridge.forward.sinks.mqtt import SINK
from firmware_bridge.logs import set_up_logs
from firmware_bridge.store.batch import NO_FRAME, Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.thrift import hold_little

COMPANY: Final = "Northgate Water Care"
SILENT_FOR_DAYS: Final = 6
"""Days before the beginning at which the silent site has said its last."""
DAYS_AT_ONCE: Final = 4
"""Days of history that are lived and kept in one piece."""
LEAST_MS: Final = 2 * HOUR_MS
"""A site lives at least so long at once."""
UNHURRIED: Final = Pace(poll_s=0.5, linger_s=1.0, now_every_s=5.0)


class Job(msgspec.Struct, frozen=True, kw_only=True):
    """Which sites, from when, to which broker; `folder` is where their files are. They have lived
    `most_days` at most before it begins."""

    seed: int
    numbers: tuple[int, ...]
    begin_ms: int
    most_days: int
    broker_port: int
    folder: str


def setup_of(plan: SitePlan) -> SiteSetup:
    """The site file of a plan, as if it had been written and compiled."""
    line = LineSetup(
        line_id="bar",
        medium=plan.kind.medium,
        size=plan.kind.size,
        capacity_mmol=plan.capacity_mmol,
        capacity_kind=plan.kind.capacity_kind,
        time_limit_days=365.0,
        bypass=plan.bypass_set,
        inlet_probe=plan.pair,
        pulses_per_l=1000.0,
        machines=("two-group machine",),
        limits=Limits(gap_s=3 * 3600.0),
    )
    return SiteSetup(
        site_id=plan.site_id, name=plan.name, what="café", service=COMPANY, lines=(line,)
    )


class LivingSite:
    """One site: lives on from where it is, a piece at a time, and keeps what came in its store."""

    def __init__(self, plan: SitePlan, job: Job) -> None:
        self.plan = plan
        self.setup = setup_of(plan)
        self.lived_ms = (job.begin_ms - min(plan.days, job.most_days) * DAY_MS) // DAY_MS * DAY_MS
        self.store = Store.open(Path(job.folder) / f"{plan.site_id}.sqlite", site_id=plan.site_id)
        self._last_ms = (
            job.begin_ms - SILENT_FOR_DAYS * DAY_MS if plan.fault == "silent" else 1 << 60
        )
        self._shift_ms = 5 * HOUR_MS if plan.fault == "clock" else 0
        self._days = CafeDays(plan, self._shift_ms)
        self._line = self.setup.lines[0]
        self._state: LineState = start(self._line, plan.number)
        self._course = Course()
        self._day_ms = 0
        self._day: DayOfRows | None = None
        self._begun = False
        self._fitted = ""

    def live(self, until_ms: int) -> None:
        """Live some days at most, and not beyond `until_ms`; what came is on the disk then."""
        begin = self.lived_ms
        rows, events = no_rows(), list[AnyEvent]()
        while self.lived_ms < min(until_ms, begin + DAYS_AT_ONCE * DAY_MS):
            more, told = self._piece(until_ms)
            rows, events = join_rows(rows, more), events + told
        if begin < self._last_ms:
            self._keep(begin, rows, tuple(events))

    def _piece(self, until_ms: int) -> tuple[Rows, list[AnyEvent]]:
        """What comes up to the next midnight, or to `until_ms`."""
        begin = self.lived_ms
        midnight = begin // DAY_MS * DAY_MS
        self.lived_ms = end = min(midnight + DAY_MS, until_ms)
        day = self._day_of(midnight)
        events = [event for event in day.events if begin <= event.at_ms < end]
        if not self._begun:
            self._begun = True
            events = [*self._days.first_facts(begin + 6 * HOUR_MS), *events]
        at_ms = day.rows.at_ms - self._shift_ms
        return day.rows.pick(np.flatnonzero((at_ms >= begin) & (at_ms < end))), events

    def _keep(self, begin: int, rows: Rows, events: tuple[AnyEvent, ...]) -> None:
        """The real path: pipeline, then store."""
        block = Block(end_ms=self.lived_ms + self._shift_ms, rows=rows, events=events)
        step = advance(self._line, LocalTime(), self.plan.number, self._state, block)
        self._state = step.state
        cartridge = step.state.weighing.cartridge_id
        unnumbered = np.full(len(rows), NO_FRAME, dtype=np.int64)
        taken = Taken(
            line_id="bar", rows=rows, boot_id=1, uptime_ms=rows.at_ms - begin, frame_seq=unnumbered
        )
        batch = Batch(
            readings=(taken,) if len(rows) else (),
            draws=(("bar", cartridge, step.draws),),
            estimates=tuple(("bar", estimate) for estimate in step.estimates),
            events=events,
            alarms=tuple(("bar", change) for change in step.alarms),
        )
        self.store.submit(batch).result()

    def _day_of(self, midnight: int) -> DayOfRows:
        """The day's rows, made once however often the day is lived in pieces."""
        if self._day is None or midnight != self._day_ms:
            self._day = self._days.day(midnight, self._course)
            self._day_ms, self._course = midnight, self._day.course
        return self._day


class Process:
    """All sites of a job, on one event loop; sites are lived on a thread of their own."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.now_ms = job.begin_ms
        wanted = plans(job.seed)
        self.sites = [LivingSite(wanted[number], job) for number in job.numbers]
        self.ended = threading.Event()

    async def run(self, say: Callable[[str], object]) -> None:
        """Live and send until the input has ended."""
        stop = asyncio.Event()
        tasks = [asyncio.create_task(self._sender(site).run(stop)) for site in self.sites]
        tasks.append(asyncio.create_task(self._tell(say)))
        living = threading.Thread(target=self._live, name="living", daemon=True)
        living.start()
        await asyncio.to_thread(self.ended.wait)
        tasks.pop().cancel()
        await asyncio.to_thread(living.join)
        stop.set()
        await asyncio.gather(*tasks, return_exceptions=True)
        for site in self.sites:
            site.store.close()

    def follow(self, line: str) -> None:
        """A virtual instant came in."""
        self.now_ms = max(int(line), self.now_ms)

    def _live(self) -> None:
        """One site after the other catches up with the beginning; then whoever is furthest behind
        lives on."""
        while not self.ended.is_set():
            behind = (site for site in self.sites if site.lived_ms < self.job.begin_ms)
            site = next(behind, None) or min(self.sites, key=lambda each: each.lived_ms)
            if site.lived_ms + LEAST_MS > self.now_ms:
                self.ended.wait(0.05)
            else:
                site.live(self.now_ms)

    def _sender(self, site: LivingSite) -> Forwarder:
        options = MqttOptions(host="127.0.0.1", port=self.job.broker_port)
        return Forwarder(
            name="fleet",
            sink=SINK,
            options=options,
            card=card_of(site.setup, site.store.box),
            outbox=site.store.outbox,
            now_ms=lambda: self.now_ms,
            rng=random.Random(site.plan.number),
            pace=UNHURRIED,
        )

    async def _tell(self, say: Callable[[str], object]) -> None:
        while True:
            say(str(min(site.lived_ms for site in self.sites)))
            await asyncio.sleep(0.5)


def main() -> None:
    """Run the job that comes in."""
    hold_little()
    set_up_logs()
    job = msgspec.json.decode(sys.stdin.readline(), type=Job)
    process = Process(job)

    def read() -> None:
        for line in sys.stdin:
            process.follow(line)
        process.ended.set()

    def say(line: str) -> None:
        sys.stdout.write(line + "\n")
        sys.stdout.flush()

    threading.Thread(target=read, name="input", daemon=True).start()
    asyncio.run(process.run(say))


if __name__ == "__main__":
    main()
