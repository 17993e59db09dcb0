"""The latest values of each line, and their way to whoever listens.

A value is named with its unit. `NAME_sd`, where given, is its standard error. Nothing here is
stored: a listener that falls behind loses its oldest updates, never the logger's time.
"""

from __future__ import annotations

import asyncio
import math
from collections import deque
from collections.abc import AsyncIterator

import msgspec

OUTLET_EC25 = "outlet_ec25_us_cm"
INLET_EC25 = "inlet_ec25_us_cm"
OUTLET_TEMP = "outlet_temp_c"
INLET_TEMP = "inlet_temp_c"
FLOW = "flow_l_min"
LIVE_NAMES = (OUTLET_EC25, INLET_EC25, OUTLET_TEMP, INLET_TEMP, FLOW)

QUEUE = 64


class Update(msgspec.Struct, frozen=True, kw_only=True):
    """Values of one line at one instant."""

    line_id: str
    at_ms: int
    values: dict[str, float]


class Latest(msgspec.Struct, frozen=True, kw_only=True):
    """The newest known value of each name with the instant it was read."""

    values: dict[str, float]
    at_ms: dict[str, int]

    def spread(self, name: str) -> float | None:
        """Standard error published with a value, or None."""
        return self.values.get(f"{name}_sd")


NOTHING = Latest(values={}, at_ms={})


class Subscription:
    """One listener's bounded queue, used as `async with live.subscribe() as updates`."""

    def __init__(self, live: Live, size: int) -> None:
        self._live = live
        self._waiting: deque[Update] = deque(maxlen=size)
        self._ready = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self.dropped = 0

    def offer(self, update: Update) -> None:
        """Put an update in the queue, the oldest giving way; callable from any thread."""
        if self._loop.is_closed():
            self._live.forget(self)
            return
        if len(self._waiting) == self._waiting.maxlen:
            self.dropped += 1
        self._waiting.append(update)
        self._loop.call_soon_threadsafe(self._ready.set)

    async def __aenter__(self) -> Subscription:
        return self

    async def __aexit__(self, *_: object) -> None:
        self._live.forget(self)

    async def __aiter__(self) -> AsyncIterator[Update]:
        while True:
            await self._ready.wait()
            self._ready.clear()
            while self._waiting:
                yield self._waiting.popleft()


class Live:
    """Latest values of all lines and fan-out to subscriptions."""

    def __init__(self) -> None:
        self._latest: dict[str, Latest] = {}
        self._subscriptions: tuple[Subscription, ...] = ()

    def publish(self, line_id: str, at_ms: int, values: dict[str, float]) -> None:
        """Make these the latest values; a name left out, or NaN, keeps its older one."""
        values = {name: value for name, value in values.items() if math.isfinite(value)}
        old = self._latest.get(line_id, NOTHING)
        self._latest[line_id] = Latest(
            values=old.values | values, at_ms=old.at_ms | dict.fromkeys(values, at_ms)
        )
        update = Update(line_id=line_id, at_ms=at_ms, values=values)
        for subscription in self._subscriptions:
            subscription.offer(update)

    def latest(self, line_id: str) -> Latest:
        """What was last published for a line; empty before the first time."""
        return self._latest.get(line_id, NOTHING)

    def subscribe(self, size: int = QUEUE) -> Subscription:
        """A listener on the running event loop that holds at most `size` updates."""
        subscription = Subscription(self, size)
        self._subscriptions = (*self._subscriptions, subscription)
        return subscription

    def forget(self, subscription: Subscription) -> None:
        """Take a listener off the list."""
        self._subscriptions = tuple(s for s in self._subscriptions if s is not subscription)
