"""A box with a node: its clock under the test's hand, switched off and on as often as it likes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from analytics.samples import AnyEvent, Rows
from analytics.setup import SiteSetup
from firmware_bridge.firmware import frames
from firmware_bridge.live import Live
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.lot import state_key
from firmware_bridge.readings.node_driver import NodeDriver
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.database import Store
from firmware_bridge.true_time import TrueTime, true_time
from tests.makers import hydrogen_line

SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(hydrogen_line(),))


class HandClock:
    """A machine's clock that the test sets: `true_ms` is what it would be if it were right."""

    speed = 1.0

    def __init__(self, wall_ms: int, since_start_ms: int = 5000) -> None:
        self.wall_ms = wall_ms
        self.since_start_ms = since_start_ms
        self.confirmed = False

    def now_ms(self) -> int:
        return self.wall_ms

    def monotonic_ms(self) -> int:
        return self.since_start_ms

    def is_sane(self) -> bool:
        return True

    async def sleep(self, seconds: float) -> None:
        self.pass_by(round(seconds * 1000))

    def pass_by(self, ms: int) -> None:
        self.wall_ms += ms
        self.since_start_ms += ms


class Box:
    """One start of the box and of its node: rows every `every_ms`, one pulse more each."""

    def __init__(self, path: Path, clock: HandClock, start: str, boot: int) -> None:
        self.clock = clock
        self.boot = boot
        self.seq = 0
        self.pulses = 0
        self._start = start
        self.store = Store.open(path, site_id="harbour-steps")
        self.node_began_ms = clock.since_start_ms
        self.dater: TrueTime | None = None

    async def begin(
        self,
        facts: tuple[AnyEvent, ...] = (),
        when_known: Callable[[], tuple[AnyEvent, ...]] = tuple,
    ) -> None:
        """Switch on."""
        self.dater = await true_time(
            self.store,
            self.clock,
            start=lambda: self._start,
            confirmed=lambda: self.clock.confirmed,
        )
        assert self.dater is not None
        self.by = self.dater.clock
        kept = self.store.reader().snapshot_before(state_key("bar"), 0)
        self.driver = NodeDriver("bar", state=kept[1] if kept else b"")
        self.loop = SiteLoop(SETUP, self.store, self.by, Live())
        self.loop.go_by(self.dater, when_known)
        await self.loop.recover(facts)
        self._say(frames.Hello(1, self.boot, self._uptime_ms, 1, 0, 0, "node"))

    async def live(self, rows: int, every_ms: int = 60_000, turn: bool = True) -> None:
        """Rows come, and a turn of the loop after each."""
        for _ in range(rows):
            self.clock.pass_by(every_ms)
            self.seq += 1
            self.pulses += self.seq % 7
            self._say(
                frames.Data(
                    1, self.boot, self.seq, self._uptime_ms, 0,
                    65_050, 21_000, 84_650, 20_000, self.pulses, 0,
                )
            )  # fmt: skip
            lot = self.driver.take()
            if lot is not None:
                self.loop.deliver(lot, lambda boot, seq: None)
            if turn:
                await self.loop.turn()

    def off(self) -> None:
        """The plug is pulled."""
        self.store.close()

    def rows(self) -> Rows:
        reader = self.store.reader()
        found = reader.rows("bar", -(1 << 60), 1 << 60)
        reader.close()
        return found

    def sent(self) -> int:
        """How many rows a sink would be given."""
        after, count = 0, 0
        while found := self.store.outbox.read(after, 5000):
            after = found[-1].seq
            count += sum(row.kind == "reading" for row in found)
        return count

    @property
    def _uptime_ms(self) -> int:
        return self.clock.since_start_ms - self.node_began_ms + 1000

    def _say(self, frame: frames.Frame) -> None:
        moment = Moment(
            now_ms=self.by.now_ms(), sane=self.by.is_sane(), wire_ms=self.clock.since_start_ms
        )
        self.driver.feed(frame.wire(), moment)
