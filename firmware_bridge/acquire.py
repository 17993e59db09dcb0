"""One supervised task a meter: open, read, decode, hand on, confirm; back off and begin again.

    link -> driver -> Lot -> deliver            every `every_s`, when there are rows
                 <- confirm(boot, seq)          once the store's commit is durable

A missing port, a wrong answer or a mistake in a driver never ends the task.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from typing import Protocol, TypeAlias, runtime_checkable

import msgspec
import structlog

from analytics.errors import LinkError
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import Clock, SystemClock
from firmware_bridge.links import Link
from firmware_bridge.readings.advice import Advice
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.lot import Lot

Deliver: TypeAlias = Callable[[Lot], Awaitable[None]]

ANSWER_EVERY_S = 0.1
"""How often the driver is asked whether it wants to say something."""

GATHER_MOST_S = 0.2
"""Between reads, so that rows that come one by one are read in handfuls: a wake costs more than
a row."""

SENTENCES_KEPT = 50

_log = structlog.get_logger(__name__)


def shape_of(sentence: str) -> str:
    """A sentence without its figures: the same complaint of another reading has the same shape."""
    return re.sub(r"[-+]?\d[\d.,e+-]*", "#", sentence)


class Driver(Protocol):
    """What turns a link's bytes into lots; it waits for nothing and opens nothing."""

    line_id: str
    complaint: str
    """The newest sentence about answers that cannot be used; empty where there is none."""

    def opened(self) -> None: ...

    def feed(self, chunk: bytes, moment: Moment) -> None: ...

    def answer(self, wire_ms: int) -> bytes: ...

    def take(self) -> Lot | None: ...

    def confirm(self, boot_id: int, seq: int) -> bytes: ...

    @property
    def counts(self) -> dict[str, int]: ...


@runtime_checkable
class Advises(Protocol):
    """A driver that can tell from a line's behaviour what is wrong with it."""

    def advice(self, wire_ms: int) -> Advice | None: ...


class Health(msgspec.Struct, frozen=True, kw_only=True):
    """How a meter's task is doing. `counts` are the driver's, since the start."""

    meter_id: str
    port: str
    open: bool
    heard_ms: int | None
    failures: int
    faults: int
    last_fault: str
    advice: str
    counts: dict[str, int]


class Acquire:
    """Reads one meter for ever.

    `deliver` is awaited with each Lot; while it waits, the port is left alone and the node keeps
    its rows. `every_s` is how long rows are gathered. `wire` is real time, whatever `clock` says.
    """

    def __init__(
        self,
        meter_id: str,
        link: Link,
        driver: Driver,
        deliver: Deliver,
        *,
        clock: Clock,
        every_s: float = 0.5,
        backoff: Backoff | None = None,
        wire: Clock | None = None,
    ) -> None:
        self.meter_id = meter_id
        self._link = link
        self._driver = driver
        self._deliver = deliver
        self._clock = clock
        self._every_s = every_s
        self._backoff = backoff or Backoff(0.25, 30.0)
        self._wire = wire or SystemClock()
        self._open = False
        self._heard_ms: int | None = None
        self._failures = 0
        self._faults = 0
        self._last_fault = ""
        self._adviser = driver if isinstance(driver, Advises) else None
        self._advice: Advice | None = None
        self._complained: set[str] = set()
        self._lot: Lot | None = None
        self._log = _log.bind(meter=meter_id, port=link.name)

    @property
    def health(self) -> Health:
        """How it stands now."""
        return Health(
            meter_id=self.meter_id,
            port=self._link.name,
            open=self._open,
            heard_ms=self._heard_ms,
            failures=self._failures,
            faults=self._faults,
            last_fault=self._last_fault,
            advice=self._advice.said if self._advice else "",
            counts=self._driver.counts,
        )

    def confirm(self, boot_id: int, seq: int) -> None:
        """Every row of the boot up to `seq` is on the disk: the node may forget them."""
        self._link.write(self._driver.confirm(boot_id, seq))

    async def run(self) -> None:
        """Read until cancelled."""
        try:
            while True:
                await self._once()
                await self._wire.sleep(self._backoff.failed())
        finally:
            self._link.close()

    async def _once(self) -> None:
        """One life of the link; comes back when it failed."""
        try:
            await self._link.open()
            await self._talk()
        except LinkError as exc:
            self._failures += 1
            self._last_fault = str(exc)
            if self._backoff.tries == 0:
                self._log.warning("meter.link", fault=str(exc), hint=exc.hint)
            else:
                self._log.debug("meter.link", fault=str(exc), tries=self._backoff.tries + 1)
        except Exception as exc:  # noqa: BLE001 - the supervisor: a mistake must not end the logging
            self._faults += 1
            self._last_fault = f"{type(exc).__name__}: {exc}"
            self._log.exception("meter.fault", faults=self._faults)
        finally:
            self._open = False
            self._link.close()

    async def _talk(self) -> None:
        self._open = True
        self._log.info("meter.open", tries=self._backoff.tries)
        self._driver.opened()
        next_lot_ms = 0
        while True:
            try:
                await self._listen()
            except LinkError:
                await self._hand_on()
                raise
            wire_ms = self._wire.monotonic_ms()
            self._link.write(self._driver.answer(wire_ms))
            self._advise(wire_ms)
            if wire_ms >= next_lot_ms:
                await self._hand_on()
                next_lot_ms = wire_ms + round(self._every_s * 1000)

    def _advise(self, wire_ms: int) -> None:
        """Say once what is wrong with the line, and once that it is over."""
        if self._adviser is None:
            return
        advice = self._adviser.advice(wire_ms)
        if advice is not None and advice != self._advice:
            self._log.warning("meter.advice", fault=advice.said, hint=advice.hint)
        elif advice is None and self._advice is not None:
            self._log.info("meter.advice-over", fault=self._advice.said)
        self._advice = advice

    async def _listen(self) -> None:
        """Take what comes within a moment. A pause gathers what comes thick and fast."""
        try:
            async with asyncio.timeout(ANSWER_EVERY_S):
                chunk = await self._link.read()
        except TimeoutError:
            return
        if self._backoff.tries:
            self._log.info("meter.back", tries=self._backoff.worked())
        self._heard_ms = self._clock.now_ms()
        moment = Moment(
            now_ms=self._heard_ms,
            sane=self._clock.is_sane(),
            wire_ms=self._wire.monotonic_ms(),
            pace=self._clock.speed / self._wire.speed,
        )
        self._driver.feed(chunk, moment)
        self._complain()
        await self._wire.sleep(min(self._every_s / 2.0, GATHER_MOST_S))

    def _complain(self) -> None:
        """Say what is wrong with the answers: each sort of sentence once, while there are few."""
        complaint = self._driver.complaint
        if not complaint or complaint == self._last_fault:
            return
        self._last_fault = complaint
        shape = shape_of(complaint)
        if shape not in self._complained:
            self._log.warning("meter.answer", fault=complaint)
        if len(self._complained) >= SENTENCES_KEPT:
            self._complained.clear()
        self._complained.add(shape)

    async def _hand_on(self) -> None:
        """Deliver what there is. A lot is let go of only when it was taken over."""
        if self._lot is None:
            self._lot = self._driver.take()
        if self._lot is not None:
            await self._deliver(self._lot)
            self._lot = None
