"""A crowd of sites on one event loop: each keeps its rows until it is told that they are safe.

A site is what the program's own sender is, as far as the wire is concerned: rows in parcels with
QoS 1, at most so many under way, sent again from the last confirmed number when nothing moves or
the connection was lost, numbers asked for sent out of turn, a will, a card.
"""

from __future__ import annotations

import asyncio
import random
import time
from collections import deque
from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np

from firmware_bridge.forward.payloads import (
    Durable,
    Wanted,
    card_message,
    online_message,
    topic,
)
from firmware_bridge.forward.sink import LineCard, SiteCard
from tests.fleet_load import codec
from tests.fleet_load.templates import PREFIX, batch, kind_of, topics

MOST_WAITING: Final = 30_000
"""Rows on their way to the receiver (`forward/SCHEMA.md`)."""
AGAIN_S: Final = 30.0
"""Rows sent and not confirmed are sent again after so long without progress."""
BACKLOG_BYTES: Final = 1_000_000

_durable = msgspec.json.Decoder(Durable)
_wanted = msgspec.json.Decoder(Wanted)


class Site:
    """One site's rows, as numbers: made up to, sent up to, safe up to."""

    __slots__ = (
        "begin_ms", "made", "marks", "mixed", "most", "moved_s", "name", "parcel", "safe", "sent",
        "topics", "wanted",
    )  # fmt: skip

    def __init__(self, name: str, begin_ms: int, *, parcel: int = 60, mixed: bool = True) -> None:
        self.name = name
        self.begin_ms = begin_ms
        self.parcel = parcel
        self.mixed = mixed
        self.most = MOST_WAITING
        self.made = 0
        self.sent = 0
        self.safe = 0
        self.moved_s = 0.0
        self.marks: deque[tuple[int, float]] = deque()
        self.wanted: deque[tuple[int, int]] = deque()
        self.topics = topics(name)

    def next(self, now_s: float) -> tuple[bytes, bytes] | None:
        """Topic and payload of the next parcel that may go; None where there is none."""
        if self.wanted:
            first, last = self.wanted.popleft()
            payload, until = self._parcel(first, min(last, self.made))
            if until < min(last, self.made):
                self.wanted.appendleft((until + 1, last))
            return self.topics[kind_of(first, self.mixed)], payload
        if self.sent >= self.made or self.sent - self.safe >= self.most:
            return None
        first = self.sent + 1
        payload, self.sent = self._parcel(first, self.made)
        self.marks.append((self.sent, now_s))
        if not self.moved_s:
            self.moved_s = now_s
        return self.topics[kind_of(first, self.mixed)], payload

    def told(self, up_to: int, now_s: float) -> float | None:
        """The receiver's word; seconds since the newest of what is now safe was sent."""
        waited = None
        while self.marks and self.marks[0][0] <= up_to:
            waited = now_s - self.marks.popleft()[1]
        if up_to > self.safe:
            self.safe = up_to
            self.moved_s = now_s if self.safe < self.sent else 0.0
        return waited

    def again(self) -> None:
        """Begin again from what is safe."""
        self.sent = self.safe
        self.marks.clear()
        self.moved_s = 0.0

    def _parcel(self, first: int, last: int) -> tuple[bytes, int]:
        return batch(
            self.name, first, min(last, first + self.parcel - 1), self.begin_ms, self.mixed
        )

    @property
    def settled(self) -> bool:
        """Whether everything it made is safe."""
        return self.safe >= self.made


class Crowd:
    """Sites, their connections, and what was measured of them."""

    def __init__(self, port: int, seed: int = 1) -> None:
        self.port = port
        self.sites: dict[str, Site] = {}
        self.links: list[Link] = []
        self.waits: list[float] = []
        self.safe_rows = 0
        self.connected = 0
        self.lost = 0
        self.chance = random.Random(seed)
        self.stopping = False

    def settled(self) -> bool:
        """Whether all that was made is safe."""
        return all(site.settled for site in self.sites.values())

    def unsafe(self) -> int:
        """Rows that are not safe yet."""
        return sum(site.made - site.safe for site in self.sites.values())

    def waits_s(self) -> tuple[float, float]:
        """Median and 99th percentile of seconds from sending to the receiver's word."""
        if not self.waits:
            return float("nan"), float("nan")
        p50, p99 = np.quantile(self.waits, (0.5, 0.99)).tolist()
        return p50, p99

    async def until(self, true: Callable[[], bool], most_s: float) -> float:
        """Wait for something; seconds it took. Raises TimeoutError."""
        begun = time.monotonic()
        while not true():
            if time.monotonic() - begun > most_s:
                there = f"{self.connected} of {len(self.links)} connected"
                raise TimeoutError(f"{self.unsafe()} rows not safe, {there}")
            await asyncio.sleep(0.02)
        return time.monotonic() - begun

    async def tend(self, every_s: float = 1.0) -> None:
        """Send again what was not confirmed for too long, until cancelled."""
        while True:
            await asyncio.sleep(every_s)
            now_s = time.monotonic()
            for link in self.links:
                for site in link.sites:
                    if site.moved_s and now_s - site.moved_s > AGAIN_S:
                        site.again()
                        link.pump()

    async def leave(self, most_s: float = 20.0) -> None:
        """Everybody says goodbye and hangs up."""
        self.stopping = True
        for link in self.links:
            link.hang_up()
        await self.until(lambda: not any(link.there for link in self.links), most_s)


class Link(asyncio.Protocol):
    """One connection that speaks for some sites, and makes itself again when it is lost."""

    def __init__(
        self, crowd: Crowd, name: str, sites: list[Site], *, introduce: bool = True
    ) -> None:
        self.crowd = crowd
        self.name = name
        self.sites = sites
        self.introduce = introduce
        self.up = False
        self.tries = 0
        crowd.links.append(self)
        for site in sites:
            crowd.sites[site.name] = site
        self._line: asyncio.Transport | None = None
        self._parser = codec.Parser()
        self._room = 0
        self._number = 0
        self._turn = 0
        self._full = False
        self._last_s = 0.0

    async def open(self) -> None:
        """Connect; tries again until it works or the crowd stops."""
        loop = asyncio.get_running_loop()
        while not self.crowd.stopping:
            try:
                await loop.create_connection(lambda: self, "127.0.0.1", self.crowd.port)
            except OSError:
                await asyncio.sleep(self._pause_s())
            else:
                return

    @property
    def there(self) -> bool:
        """Whether there is a connection."""
        return self._line is not None

    def pump(self) -> None:
        """Send what may go, site by site in turn."""
        now_s = time.monotonic()
        idle = 0
        while self.up and not self._full and self._room > 0 and idle < len(self.sites):
            site = self.sites[self._turn % len(self.sites)]
            self._turn += 1
            found = site.next(now_s)
            if found is None:
                idle += 1
                continue
            idle = 0
            self._room -= 1
            self._send(codec.publish(found[0], found[1], self._next_number()))

    def hang_up(self) -> None:
        """End the connection in good order."""
        if self._line is not None:
            self._send(codec.GOODBYE)
            self._line.close()

    def drop(self) -> None:
        """Lose the connection, as a cut cable does."""
        if self._line is not None:
            self._line.abort()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._line = transport
        self._parser = codec.Parser()
        transport.set_write_buffer_limits(high=BACKLOG_BYTES)
        self._send(codec.connect(self.name, 300, self._will()))

    def connection_lost(self, exc: Exception | None) -> None:
        if self.up:
            self.crowd.connected -= 1
        self.up, self._line, self._full = False, None, False
        if self.crowd.stopping:
            return
        self.crowd.lost += 1
        loop = asyncio.get_running_loop()
        loop.call_later(self._pause_s(), lambda: loop.create_task(self.open()))

    def data_received(self, data: bytes) -> None:
        acknowledged = 0
        for packet in self._parser.feed(data):
            if packet.kind == codec.PUBLISH:
                self._heard(packet)
            elif packet.kind == codec.PUBACK:
                acknowledged += 1
            elif packet.kind == codec.CONNACK:
                self._greeted(packet)
        if acknowledged:
            self._room += acknowledged
            self.pump()

    def pause_writing(self) -> None:
        self._full = True

    def resume_writing(self) -> None:
        self._full = False
        self.pump()

    def ping(self) -> None:
        """Show that it is there."""
        if self.up:
            self._send(codec.PINGREQ)

    def _greeted(self, packet: codec.Packet) -> None:
        if packet.code >= 128:
            raise ConnectionRefusedError(f"the broker lets {self.name} not in: {packet.code}")
        self.up, self._room, self.tries = True, min(packet.most, 200), 0
        self.crowd.connected += 1
        for site in self.sites:
            site.again()
        self._send(codec.subscribe(self._next_number(), self._heard_topics()))
        if self.introduce:
            for site in self.sites:
                for told in introduction(site.name):
                    self._send(codec.publish(told[0], told[1], retain=True))
        self.pump()

    def _heard_topics(self) -> list[str]:
        levels = ("durable", "wanted")
        return [topic(PREFIX, site.name, level) for site in self.sites for level in levels]

    def _heard(self, packet: codec.Packet) -> None:
        if packet.topic.endswith("/durable"):
            self._safe(_durable.decode(packet.payload))
        elif packet.topic.endswith("/wanted"):
            said = _wanted.decode(packet.payload)
            site = self.crowd.sites[said.site]
            site.wanted.extend(span for span in said.spans if span not in site.wanted)
            self.pump()

    def _safe(self, said: Durable) -> None:
        site = self.crowd.sites[said.site]
        before = site.safe
        waited = site.told(said.up_to, time.monotonic())
        self.crowd.safe_rows += site.safe - before
        if waited is not None:
            self.crowd.waits.append(waited)
        if site.sent < site.made:
            self.pump()

    def _will(self) -> codec.Will | None:
        if not self.introduce or len(self.sites) > 1:
            return None
        told = online_message(self.sites[0].name, PREFIX, False)
        return codec.Will(told.topic, told.payload)

    def _send(self, data: bytes) -> None:
        if self._line is not None:
            self._line.write(data)

    def _next_number(self) -> int:
        self._number = self._number % 65535 + 1
        return self._number

    def _pause_s(self) -> float:
        """Capped and jittered, as the program's own sender waits."""
        self.tries += 1
        longest = min(0.5 * 2.0 ** min(self.tries, 6), 20.0)
        return longest * (0.5 + 0.5 * self.crowd.chance.random())


def introduction(site: str) -> list[tuple[bytes, bytes]]:
    """What a site says first: who it is, and that it is there."""
    line = LineCard(
        line_id="bar", medium="hydrogen", size="5", capacity_mmol=640.0, capacity_kind="carbonate"
    )
    card = SiteCard(
        site_id=site, name=f"Site {site}", service="Northgate Water Care", lines=(line,)
    )
    told = (card_message(card, PREFIX), online_message(site, PREFIX, True))
    return [(message.topic.encode(), message.payload) for message in told]
