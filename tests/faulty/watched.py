"""A stretch taken through the whole pipeline, and what was said of it."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

import numpy as np

from analytics.diagnosis.faults import ALIKE
from analytics.pipeline import Block, LineState, advance, start
from analytics.samples import DAY_MS, HOUR_MS, AnyEvent
from tests.faulty.stretch import Stretch, stretch

QUARTER_MS = HOUR_MS // 4
LOOK_MS = 2 * HOUR_MS


class Said(NamedTuple):
    """The fault of a stretch, what it was named, everything else that was said of it while the
    fault lasted or before, and days watched."""

    number: int
    fault: str
    named: str
    others: tuple[str, ...]
    days: float

    @property
    def right(self) -> bool:
        """Whether it was named for what it is, or for what it cannot be told from."""
        alike = {pair[1]: pair[0] for pair in ALIKE if pair[0] == "no-flow"}
        return self.named == alike.get(self.fault, self.fault)


def findings_of(it: Stretch, block_ms: int = LOOK_MS) -> list[tuple[int, frozenset[str]]]:
    """The codes that stood at the end of every block."""
    state = start(it.line, 20240)
    waiting: list[AnyEvent] = sorted(it.events, key=lambda e: e.at_ms)
    found, begun, at = list[tuple[int, frozenset[str]]](), 0, it.begin_ms
    while at < it.end_ms:
        at = min(at + block_ms, it.end_ms)
        state, begun, waiting = _advanced(it, state, begun, at, waiting)
        found.append((at, frozenset(f.code for f in state.watch.diagnosis.findings)))
    return found


def _advanced(
    it: Stretch, state: LineState, begun: int, at: int, waiting: list[AnyEvent]
) -> tuple[LineState, int, list[AnyEvent]]:
    upto = int(np.searchsorted(it.rows.at_ms, at, side="right"))
    due = tuple(e for e in waiting if e.at_ms <= at)
    block = Block(end_ms=at, rows=it.rows.cut(begun, upto), events=due)
    step = advance(it.line, it.local, 20240, state, block)
    return step.state, upto, waiting[len(due) :]


def said_of(number: int, seed: int, fault: str | None = None) -> Said:
    """What is said of the stretch of this number: its name is the fault that stood longest."""
    it = stretch(number, seed, fault)
    stood, early = Counter[str](), set[str]()
    for at, codes in findings_of(it):
        if at <= it.fault_ms or not it.fault:
            early |= codes
        if at > it.fault_ms:
            stood.update(codes)
    named = max(stood, key=lambda code: stood[code]) if stood else ""
    others = (set(stood) | early) - {named} if it.fault else early | set(stood)
    return Said(number, it.fault, named, tuple(sorted(others)), (it.end_ms - it.begin_ms) / DAY_MS)
