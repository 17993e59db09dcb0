"""The site's parts put together: start order, stop order, and supervisors between them.

Start: store, site loop, meters, sinks, faces. Stop is the way of the data: meters, what is on its
way, the state, a last forward, the store. A part that fails is started again by its supervisor and
never takes another with it.
"""

from __future__ import annotations

import asyncio
import random
from collections import Counter
from collections.abc import Callable, Coroutine, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
import structlog

from analytics.errors import StoreDamaged, StoreError
from analytics.samples import AnyEvent, CartridgeFitted, KFactorSet, Withdrawn
from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import Clock
from firmware_bridge.config import Site
from firmware_bridge.config.secret import settled
from firmware_bridge.config.wiring import SITE_FILE, MeterWiring
from firmware_bridge.forward.runner import Forwarder
from firmware_bridge.forward.sink import card_of, sink_of_kind
from firmware_bridge.host import HostLoop
from firmware_bridge.links.shared import Shared
from firmware_bridge.live import Live
from firmware_bridge.logbook.book import Logbook
from firmware_bridge.logbook.hatch import hatch_of, serve_hatch
from firmware_bridge.mending import opened, rescued
from firmware_bridge.meters import Asked, Joined, Meter, asked_of, meter_named, reading_task
from firmware_bridge.notify.notice import Teller, notifier_of_kind
from firmware_bridge.notify.runner import NotifyLoop
from firmware_bridge.readings.joining import Joining
from firmware_bridge.readings.lot import Lot, state_key
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader
from firmware_bridge.true_time import true_time
from firmware_bridge.watchdog import feed, manager_of

MOST_RESCUES = 5
LOOK_EVERY_S = 1.0

log = structlog.get_logger(__name__)

Face = Callable[["Running", asyncio.Event], Coroutine[Any, Any, None]]
"""A face of the site (the pages): runs until the event is set."""


class Running(msgspec.Struct):
    """What is there once a site runs: what faces read from."""

    site: Site
    store: Store
    clock: Clock
    live: Live
    loop: SiteLoop
    book: Logbook
    meters: list[Acquire]
    sinks: list[Forwarder]
    notifiers: list[NotifyLoop] = msgspec.field(default_factory=list)


async def run_site(
    site: Site,
    clock: Clock,
    stop: asyncio.Event,
    *,
    faces: tuple[Face, ...] = (),
    speed: float = 1.0,
    meter: Callable[[str], Meter] | None = None,
    teller: Teller | None = None,
) -> None:
    """Run a site until `stop` is set; `teller` has the words of notices to people.

    A file that is damaged is set aside, what can be read of it is saved, and the site goes on.
    Raises StoreBusy, StoreForeign, StoreFull or StoreError where the site's file cannot be opened.
    """
    path = Path(site.wiring.store_path)
    for _ in range(MOST_RESCUES):
        store = await opened(site, path, clock.now_ms())
        try:
            with suppress(StoreDamaged):  # it is told by the store
                running, facts = await _running(site, store, clock, speed)
                await running.loop.recover(facts)
                told = _notify_tasks(running, teller)
                await _work(running, stop, faces, meter or meter_named, told)
        finally:
            await asyncio.to_thread(store.close)
        if store.damage is None:
            return
        await rescued(site, path, clock.now_ms(), store.damage)
    raise StoreDamaged(
        f"{path}: damaged again and again: {MOST_RESCUES} times since the start",
        "The disk is failing: replace it, then put a backup in place with lastlitre restore.",
    )


async def _running(
    site: Site, store: Store, clock: Clock, speed: float
) -> tuple[Running, tuple[AnyEvent, ...]]:
    """The site's parts that are always there, and the facts to begin with.

    Facts that are dated by the start wait for the time, where nobody knows it yet.
    """
    dater = await true_time(store, clock)
    by: Clock = clock if dater is None else dater.clock
    loop = SiteLoop(site.setup, store, by, live := Live(), speed=speed)
    facts = facts_of_file(site, store, by.now_ms())
    if dater is not None:
        began = dater.clock.began_ms
        loop.go_by(dater, lambda: facts_of_start(site, store, began()))
    if dater is None or by.is_sane():
        facts += facts_of_start(site, store, by.now_ms())
    running = Running(
        site=site,
        store=store,
        clock=by,
        live=live,
        loop=loop,
        book=Logbook(site.setup, store.reader(), loop, by),
        meters=[],
        sinks=[],
    )
    return running, facts


def facts_of_file(site: Site, store: Store, now_ms: int) -> tuple[AnyEvent, ...]:
    """The site file's dated facts, and the end of those it no longer has."""
    facts: list[AnyEvent] = list(site.setup.dated)
    reader = store.reader()
    still = {fact.event_id for fact in facts}
    facts += [
        _withdrawn(old, now_ms)
        for old in reader.events()
        if old.event_id.startswith(SITE_FILE) and old.event_id not in still
    ]
    reader.close()
    return tuple(facts)


def facts_of_start(site: Site, store: Store, at_ms: int) -> tuple[AnyEvent, ...]:
    """How each cartridge stood when logging began, and what the plates of meters promise: once."""
    facts: list[AnyEvent] = []
    reader = store.reader()
    for begin in site.wiring.starts:
        event_id = f"start-{begin.line_id}"
        if not reader.event_known(event_id):
            facts.append(
                CartridgeFitted(
                    at_ms=at_ms,
                    known_at_ms=at_ms,
                    line_id=begin.line_id,
                    event_id=event_id,
                    litres_before=begin.litres_before,
                )
            )
    facts += _plates(site, reader, list(site.setup.dated), at_ms)
    reader.close()
    return tuple(facts)


def _plates(site: Site, reader: Reader, facts: list[AnyEvent], now_ms: int) -> Iterator[KFactorSet]:
    """What the plate of a water meter promises, once, where nobody has measured it yet."""
    lines = {line.line_id: line for line in site.setup.lines}
    told = [*reader.events(), *facts]
    measured = {fact.line_id for fact in told if isinstance(fact, KFactorSet)}
    for wired in site.wiring.meters:
        spread = wired.options.flow_spread()
        if spread is not None and wired.line_id not in measured:
            yield KFactorSet(
                at_ms=now_ms,
                known_at_ms=now_ms,
                line_id=wired.line_id,
                event_id=f"plate-{wired.line_id}-{wired.meter_id}",
                note="accuracy class on the water meter's plate",
                pulses_per_l=lines[wired.line_id].pulses_per_l,
                relative_sd=spread,
            )


def _withdrawn(old: AnyEvent, now_ms: int) -> Withdrawn:
    """An entry that was taken out of the site file, or changed there, no longer holds."""
    return Withdrawn(
        at_ms=old.at_ms,
        known_at_ms=now_ms,
        line_id=old.line_id,
        event_id=f"undo-{old.event_id}",
        withdraws=old.event_id,
        note="no longer in the site file",
    )


async def _work(
    running: Running,
    stop: asyncio.Event,
    faces: tuple[Face, ...],
    meter: Callable[[str], Meter],
    told: list[NotifyLoop],
) -> None:
    """Everything at once, then the stop in the order of the data."""
    still, ended = asyncio.Event(), asyncio.Event()
    tasks = [asyncio.create_task(task) for task in _meter_tasks(running, meter)]
    pages = [
        asyncio.create_task(_watch(f"page {n}", _face(face, running, ended), ended))
        for n, face in enumerate(faces)
    ]
    pages.append(asyncio.create_task(_watch("hatch", _hatch(running, ended), ended)))
    work = asyncio.create_task(_watch("site", running.loop.run, still))
    notices = [asyncio.create_task(_telling(loop, ended)) for loop in told]
    box = asyncio.create_task(_watch("box", lambda: _host(running).run(ended), ended))
    forward = [asyncio.create_task(task) for task in _sink_tasks(running, ended)]
    manager = manager_of()
    fed = asyncio.create_task(feed(manager, lambda: running.loop.beats, still))
    try:
        await _until(stop, running.store, work)
    finally:
        manager.tell("STOPPING=1")
        await _ended(tasks)
        still.set()
        await fed
        await _ended([work])
        ended.set()
        await asyncio.gather(*pages, *forward, *notices, box, return_exceptions=True)


def _telling(loop: NotifyLoop, ended: asyncio.Event) -> Coroutine[Any, Any, None]:
    return _watch(f"notifier {loop.status.name}", lambda: loop.run(ended), ended)


def _notify_tasks(running: Running, teller: Teller | None) -> list[NotifyLoop]:
    """A loop for every way to tell people. Raises ConfigError where a secret cannot be had."""
    setup, loops = running.site.setup, list[NotifyLoop]()
    for wired in running.site.wiring.notifiers:
        if teller is None:
            raise ValueError("notifiers need somebody who knows the words")
        notifier = notifier_of_kind(wired.kind)
        loops.append(
            NotifyLoop(
                name=wired.notifier_id,
                notifier=notifier,
                options=settled(wired.options, notifier.options),
                policy=wired.policy,
                teller=teller,
                site_id=setup.site_id,
                local=setup.local_time,
                store=running.store,
                now_ms=running.clock.now_ms,
            )
        )
    running.notifiers = loops
    return loops


def _host(running: Running) -> HostLoop:
    return HostLoop(
        running.store,
        running.clock,
        running.site.setup.host_limits,
        lambda: [sink.status for sink in running.sinks],
        lambda: running.loop.full or running.store.health.full,
    )


async def _until(stop: asyncio.Event, store: Store, work: asyncio.Task[None]) -> None:
    """Wait for the stop, for damage to the file, or for an end of the site loop that has none."""
    stopping = asyncio.create_task(stop.wait())
    try:
        while store.damage is None:
            await asyncio.wait(
                {stopping, work}, timeout=LOOK_EVERY_S, return_when=asyncio.FIRST_COMPLETED
            )
            if stopping.done():
                return
            if work.done():
                work.result()
                return
    finally:
        stopping.cancel()


def _face(
    face: Face, running: Running, ended: asyncio.Event
) -> Callable[[], Coroutine[Any, Any, None]]:
    return lambda: face(running, ended)


def _hatch(running: Running, ended: asyncio.Event) -> Callable[[], Coroutine[Any, Any, None]]:
    return lambda: serve_hatch(hatch_of(running.site), running.book, ended)


def _meter_tasks(
    running: Running, meter: Callable[[str], Meter]
) -> list[Coroutine[Any, Any, None]]:
    tasks: list[Coroutine[Any, Any, None]] = []
    reader = running.store.reader()
    shared, ports = _shared(running.site), Shared()
    for wired in running.site.wiring.meters:
        state = _state(reader, wired, several=wired.line_id in shared)
        asked = asked_of(running.site, wired, running.clock, state=state, shared=ports)
        joined = meter(wired.driver).join(asked)
        task = _reading(running, asked, joined, shared.get(wired.line_id))
        running.meters.append(task)
        tasks.append(task.run())
        if joined.life is not None:
            tasks.append(_watch(f"{wired.meter_id} life", joined.life, asyncio.Event()))
    reader.close()
    return tasks


def _shared(site: Site) -> dict[str, Joining]:
    """Lines that several meters are on, each with what makes them one."""
    on = Counter(wired.line_id for wired in site.wiring.meters)
    return {line_id: Joining() for line_id, meters in on.items() if meters > 1}


def _state(reader: Reader, wired: MeterWiring, *, several: bool) -> bytes:
    """What the meter's last lot carried."""
    found = reader.snapshot_before(state_key(wired.line_id, wired.meter_id if several else ""), 0)
    return found[1] if found else b""


def _reading(
    running: Running, asked: Asked, joined: Joined, joining: Joining | None = None
) -> Acquire:
    """The task that reads a meter and hands its lots to the site loop."""

    async def deliver(lot: Lot) -> None:
        if joining is not None:
            named = msgspec.structs.replace(lot, meter_id=asked.meter_id)
            lot = joining.join(asked.meter_id, named)
        await running.loop.room()
        running.loop.deliver(lot, task.confirm)

    task = reading_task(asked, joined, deliver)
    return task


def _sink_tasks(running: Running, ended: asyncio.Event) -> list[Coroutine[Any, Any, None]]:
    tasks: list[Coroutine[Any, Any, None]] = []
    for wired in running.site.wiring.sinks:
        sink = sink_of_kind(wired.kind)
        runner = Forwarder(
            name=wired.sink_id,
            sink=sink,
            options=settled(wired.options, sink.options),
            card=card_of(running.site.setup, running.store.box),
            outbox=running.store.outbox,
            now_ms=running.clock.now_ms,
            rng=random.Random(),
        )
        running.sinks.append(runner)
        tasks.append(runner.run(ended))
    return tasks


async def _watch(
    name: str, work: Callable[[], Coroutine[Any, Any, None]], ended: asyncio.Event
) -> None:
    """Run a part again whenever it fails, until it is to end."""
    backoff = Backoff(0.5, 60.0)
    while True:
        try:
            await work()
        except StoreError:
            raise
        except Exception:
            log.exception("part.failed", part=name)
        else:
            return
        if ended.is_set():
            return
        await asyncio.sleep(backoff.failed())


async def _ended(tasks: list[asyncio.Task[None]]) -> None:
    """Cancel tasks and wait until they are gone."""
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
