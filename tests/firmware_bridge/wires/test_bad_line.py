"""A node and a host on a bad line: noise, drops, doubles, cuts, resets, host restarts.

Checked exactly: the pulses in the stored rows are the pulses that were counted, no row is stored
twice, and every row of the last boot arrives.
"""

from __future__ import annotations

import random
from typing import Any

import pytest

from firmware_bridge.firmware import frames, node
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.node_driver import NodeDriver

START = 1_750_000_000_000


class BadLine:
    """Does to bytes what bad cables do; `badness` is the chance a write."""

    def __init__(self, chance: random.Random, badness: float) -> None:
        self.chance = chance
        self.badness = badness

    def carry(self, data: bytes) -> bytes:
        """What arrives."""
        if not data or self.chance.random() >= self.badness:
            return data
        place = self.chance.randrange(len(data))
        harm = self.chance.randrange(5)
        if harm == 0:
            return b""
        if harm == 1:
            return data + data
        if harm == 2:
            return data[:place]
        if harm == 3:
            return data[:place] + self.chance.randbytes(7) + data[place:]
        return (
            data[:place]
            + bytes((data[place] ^ (1 << self.chance.randrange(8)),))
            + data[place + 1 :]
        )


class Host:
    """A driver with a disk: what is stored, and the driver's state stored with it."""

    def __init__(self) -> None:
        self.state = b""
        self.stored: list[tuple[int, int]] = []
        self.pulses = 0
        self.last_ms = 0
        self.unconfirmed: list[tuple[int, int]] = []
        self.start()

    def start(self) -> None:
        """The host starts (again) with what is on its disk."""
        self.driver = NodeDriver("bar", state=self.state)
        self.driver.opened()

    def commit(self, lot: Lot | None) -> bytes:
        """Store a lot; the confirmation to send."""
        if lot is None:
            return b""
        self.state = lot.state
        out = b""
        for taken in lot.taken:
            assert taken.rows.at_ms[0] >= self.last_ms
            self.last_ms = int(taken.rows.at_ms[-1])
            assert taken.rows.pulses.min() >= 0
            self.pulses += int(taken.rows.pulses.sum())
            self.stored += [(taken.boot_id, int(seq)) for seq in taken.frame_seq]
            out += self.driver.confirm(taken.boot_id, int(taken.frame_seq[-1]))
        return out


class Site:
    """A node, a line and a host, moved on step by step, 100 ms each."""

    def __init__(self, bench: Any, seed: int) -> None:
        self.chance = random.Random(seed)
        self.bench = bench
        self.line = BadLine(self.chance, 0.0)
        self.host = Host()
        self.now_ms = 0
        self.counted = 0
        self.start_node()
        self.step(flow=False)  # the first row says where the counter stood

    def start_node(self) -> None:
        """The node starts (again); what it counted is in its memory."""
        self.node: node.Node = self.bench.start(self.chance.randrange(65536), 400)
        self.since_ms = self.now_ms

    def step(self, *, flow: bool = True) -> None:
        """100 ms go by."""
        self.now_ms += 100
        if flow and self.chance.random() < 0.3:
            pulses = self.chance.randrange(40)
            self.bench.flow(pulses)
            self.counted += pulses
        heard = self.line.carry(self.node.step(self.now_ms - self.since_ms))
        driver = self.host.driver
        moment = Moment(now_ms=START + self.now_ms, wire_ms=self.now_ms)
        if heard:
            driver.feed(heard, moment)
        said = driver.answer(self.now_ms)
        if self.now_ms % 500 == 0:
            said += self.host.commit(driver.take())
        if said:
            self.node.receive(self.line.carry(said), self.now_ms - self.since_ms)

    def settle(self) -> None:
        """The line is good again for long enough, and no water runs."""
        self.line.badness = 0.0
        for more in range(3000):
            self.step(flow=False)
            if more > 1000 and self.node.confirmed() == self.node.newest():
                return


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("badness", [0.0, 0.05, 0.4])
def test_every_pulse_is_stored_once(bench: Any, seed: int, badness: float) -> None:
    """Over noise, drops, resets of the node and restarts of the host nothing is lost or doubled."""
    site = Site(bench, seed)
    fast = frames.Setup(frames.SETUP, 0, 0, "draw-ms", "200").wire()
    site.node.receive(fast, 0)
    for _ in range(50):
        site.step()
    site.line.badness = badness
    for _ in range(4000):
        site.step()
        dice = site.chance.random()
        if dice < 0.0015:
            site.start_node()
        elif dice < 0.003:
            site.host.start()
    site.settle()

    assert site.host.pulses == site.counted
    assert len(site.host.stored) == len(set(site.host.stored))
    last = [seq for boot, seq in site.host.stored if boot == site.node.boot]
    assert last == list(range(1, site.node.newest() + 1))
    assert site.node.confirmed() == site.node.newest()


@pytest.mark.parametrize("seed", range(4))
def test_a_host_that_is_away_gets_what_the_node_kept(bench: Any, seed: int) -> None:
    """Rows made while nobody listened arrive afterwards, oldest first, confirmed to the last."""
    site = Site(bench, seed)
    for _ in range(100):
        site.step()
    for _ in range(6000):
        site.now_ms += 100
        bench.flow(1)
        site.counted += 1
        site.node.step(site.now_ms - site.since_ms)
    site.host.start()
    for _ in range(200):
        site.step(flow=False)
    caught_up = site.node.newest() - site.node.confirmed()
    site.settle()

    assert caught_up <= 1
    assert site.host.pulses == site.counted
    assert [seq for _, seq in site.host.stored] == list(range(1, site.node.newest() + 1))
    assert site.node.confirmed() == site.node.newest()


def test_a_full_ring_loses_rows_but_no_litre(bench: Any) -> None:
    """When the host was away longer than the ring lasts, the litres are in the next row."""
    site = Site(bench, 1)
    for _ in range(50):
        site.step()
    for _ in range(80_000):
        site.now_ms += 100
        bench.flow(1)
        site.counted += 1
        site.node.step(site.now_ms - site.since_ms)
    site.settle()

    assert site.host.pulses == site.counted
    assert site.host.driver.counts["rows_lost"] > 0
    assert site.node.confirmed() == site.node.newest()
