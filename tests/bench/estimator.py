"""How honest and how fast the estimate is over many lives of the project's own column model.

`python -m tests.bench.estimator --count 500` takes some twenty minutes on one core.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np

from analytics.pipeline import Block, Watch, watch_over
from analytics.snapshot import to_bytes
from analytics.weigh import start_weighing, weigh
from firmware_bridge.backtest.counter import set_counter
from firmware_bridge.backtest.report import Report
from firmware_bridge.backtest.score import Score, score
from tests.quick_lives.life import QuickLife, quick_life


def run(count: int = 16, seed: int = 5, scenario: str | None = None) -> dict[str, float]:
    """Seconds a life and a step, bytes of a state, and the table on standard error."""
    lives = [quick_life(number, seed, scenario) for number in range(count)]
    scored = [score_quick(life) for life in lives]
    report = Report(scores=tuple(each for each, _, _ in scored))
    sys.stderr.write(report.text())
    whole = report.rows()[0]
    return {
        "seconds a life": float(np.mean([s.seconds for s, _, _ in scored])),
        "milliseconds a step": 1e3
        * sum(s.seconds for s, _, _ in scored)
        / sum(steps for _, steps, _ in scored),
        "bytes of a state": float(max(size for _, _, size in scored)),
        "covered %": whole.covered_pct or 0.0,
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


def main() -> None:
    """Run as a program."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--scenario", help="one kind of life only, such as normal")
    options = parser.parse_args()
    for name, value in run(options.count, options.seed, options.scenario).items():
        sys.stdout.write(f"{name}: {value:.4g}\n")


if __name__ == "__main__":
    main()
