"""How good and how honest the estimate is over many lives of the project's own column model.

`python -m tests.bench calibration --lives 500` takes some ten minutes on two cores: per medium and
layout the error with 75, 50, 25 and 10 % left beside a plain counter, how often the range held the
truth and on which side it did not, ends missed, false ends a site-year, and the calibration.
"""

from __future__ import annotations

import sys
from functools import partial

from firmware_bridge.backtest.report import Report
from firmware_bridge.backtest.runner import score_all
from firmware_bridge.backtest.score import Score
from tests.bench.estimator import score_quick
from tests.quick_lives.life import quick_life

LIVES = 16


def report(
    lives: int, seed: int = 5, scenario: str | None = None, workers: int | None = None
) -> Report:
    """Scores of so many lives, made and weighed in processes side by side."""
    work = partial(score_number, seed=seed, scenario=scenario)
    return Report(scores=tuple(score_all(work, list(range(lives)), _progress, workers)))


def score_number(number: int, seed: int, scenario: str | None) -> Score:
    """The score of the life of this number; `scenario` makes it one of that kind."""
    return score_quick(quick_life(number, seed, scenario))[0]


def run(lives: int = LIVES) -> dict[str, float]:
    """The tables on standard error; the main figures of every group."""
    found = report(lives)
    sys.stderr.write("\n" + found.text())
    figures: dict[str, float] = {}
    for row in found.rows():
        known = {f"error at {k} % left, %": v for k, v in row.error_pct.items()}
        known |= {
            "truth in range, %": row.covered_pct,
            "truth under it, %": row.below_pct,
            "truth over it, %": row.above_pct,
            "distance from an honest range": row.pit_off,
            "ends missed": float(row.missed),
            "false ends a site-year": row.false_a_year,
        }
        figures |= {f"{row.group}: {k}": v for k, v in known.items() if v is not None}
    return figures


def _progress(done: int, whole: int, name: str) -> None:
    sys.stderr.write(f"\r{done} of {whole} lives")
    sys.stderr.flush()
