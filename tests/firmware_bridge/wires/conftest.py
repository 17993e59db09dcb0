"""Hardware for a node under test: values that the test sets, a memory that outlives the node."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware_bridge.firmware import frames, node
from firmware_bridge.firmware.parts import Conductivity, Memory, Pulses, Thermometer
from firmware_bridge.links.pty_pair import PtyPair


class Bench(Conductivity, Thermometer, Pulses, Memory):
    """All four parts of a node on one bench. What was saved or noted outlives a start."""

    def __init__(self) -> None:
        self.values: dict[int, tuple[int | None, int]] = {}
        self.saved = b""
        self.last_note: tuple[int, int, int] | None = None
        self.since_start = [0, 0]
        self.fault = ""

    def read(self, probe: int) -> tuple[int | None, int]:
        """The same figure for conductivity and temperature of a probe."""
        return self.values.get(probe, (20_000 + probe, frames.GOOD))

    def count(self, meter: int) -> int:
        """Pulses since the last start."""
        return self.since_start[meter] & self.mask

    def check(self) -> str:
        """The fault the test put in."""
        return self.fault

    def load(self) -> bytes:
        """What was saved last."""
        return self.saved

    def save(self, data: bytes) -> None:
        """Keep it."""
        self.saved = data

    def note(self, starts: int, first: int, second: int) -> None:
        """Keep it over a reset."""
        self.last_note = (starts, first, second)

    def noted(self) -> tuple[int, int, int] | None:
        """What was noted last."""
        return self.last_note

    def cut_power(self) -> None:
        """What was only noted is gone."""
        self.last_note = None

    def flow(self, pulses: int) -> None:
        """Water runs through meter 0."""
        self.since_start[0] += pulses

    def start(self, chance: int = 1, ring_rows: int = 64) -> node.Node:
        """A node starts on these parts; its interrupt counts begin at 0."""
        self.since_start = [0, 0]
        return node.Node(self, self, self, self, chance, ring_rows)


@pytest.fixture
def bench() -> Bench:
    """A node's hardware."""
    return Bench()


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[PtyPair]:
    """A cable whose port keeps its name."""
    cable = PtyPair(tmp_path / "node")
    yield cable
    cable.close()
