"""How fast the estimate is and how large its state, over lives of the project's own column model.

How honest it is: `calibration.py`.
"""

from __future__ import annotations

import time

import numpy as np

from analytics.pipeline import Block, Watch, watch_over
from analytics.snapshot import to_bytes
from analytics.weigh import start_weighing, weigh
from firmware_bridge.backtest.counter import set_counter
from firmware_bridge.backtest.score import Score, score
from tests.quick_lives.life import QuickLife, quick_life


def run(count: int = 8, seed: int = 5) -> dict[str, float]:
    """Seconds a life and a step, bytes of a state."""
    scored = [score_quick(quick_life(number, seed)) for number in range(count)]
    seconds = [score.seconds for score, _, _ in scored]
    return {
        "seconds a life": float(np.mean(seconds)),
        "milliseconds a step": 1e3 * sum(seconds) / sum(steps for _, steps, _ in scored),
        "bytes of a state": float(max(size for _, _, size in scored)),
    }


def score_quick(life: QuickLife) -> tuple[Score, int, int]:
    """The score of one quick life, its steps, and the size of its last state in bytes."""
    setup, truth = life.setup, life.truth
    line = setup.lines[0]
    begun = time.perf_counter()
    state, estimates = weigh(
        line,
        setup.local_time,
        setup.seed,
        start_weighing(line, setup.seed),
        life.draws,
        setup.dated,
        life.end_ms,
    )
    seconds = time.perf_counter() - begun
    block = Block(end_ms=life.end_ms, events=setup.dated)
    _, alarms = watch_over(line, Watch(), block, estimates)
    litres = np.cumsum(life.draws.pulses) / line.pulses_per_l
    counted = np.interp([e.at_ms for e in estimates], life.draws.end_ms, litres)
    counter = set_counter(line, setup.dated)
    found = score(truth, estimates, alarms, counter, counted, seconds)
    return found, len(estimates), len(to_bytes(state))
