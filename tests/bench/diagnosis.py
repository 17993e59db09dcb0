"""Which faults are told apart: seeded stretches of cafes, one fault each or none.

`python -m tests.bench diagnosis --count 2000` takes about an hour on two idle cores: the table of
what each fault was named on standard error; shares named right, and false faults a site-month on
healthy stretches.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from functools import partial

import msgspec

from firmware_bridge.backtest.runner import score_all
from tests.faulty.watched import Said, said_of

STRETCHES = 24
MONTH_DAYS = 30.4


class Confusion(msgspec.Struct, frozen=True, kw_only=True):
    """What every fault was named; `said` holds one of every stretch."""

    said: tuple[Said, ...]

    @property
    def right(self) -> float:
        """Share of the faulted stretches named for what they are."""
        faulted = [s for s in self.said if s.fault]
        return sum(s.right for s in faulted) / max(len(faulted), 1)

    @property
    def false_a_month(self) -> float:
        """Faults named on healthy stretches, a site-month."""
        healthy = [s for s in self.said if not s.fault]
        months = sum(s.days for s in healthy) / MONTH_DAYS
        return sum(len(s.others) for s in healthy) / months if months else 0.0

    def text(self) -> str:
        """The table: a fault a line, what it was named and how often."""
        rows: dict[str, Counter[str]] = {}
        for one in self.said:
            rows.setdefault(one.fault or "healthy", Counter())[one.named or "nothing"] += 1
        width = max(len(name) for name in rows) if rows else 0
        return "".join(
            f"{name:{width}}  " + ", ".join(f"{n} {c}" for n, c in found.most_common()) + "\n"
            for name, found in sorted(rows.items())
        )


def confusion(count: int, seed: int = 11, workers: int | None = None) -> Confusion:
    """Watch so many stretches in processes side by side."""
    work = partial(said_of, seed=seed)
    return Confusion(said=tuple(score_all(work, list(range(count)), _progress, workers)))


def run(count: int = STRETCHES) -> dict[str, float]:
    """The table on standard error; the main figures, and the share named right of every fault."""
    found = confusion(count)
    sys.stderr.write("\n" + found.text() + _wrong(found.said))
    figures = {
        "stretches": float(count),
        "named right, %": 100.0 * found.right,
        "false faults a site-month, healthy": found.false_a_month,
    }
    for fault in sorted({s.fault for s in found.said if s.fault}):
        mine = [s for s in found.said if s.fault == fault]
        figures[f"right, %: {fault}"] = 100.0 * sum(s.right for s in mine) / len(mine)
    return figures


def _wrong(said: Sequence[Said]) -> str:
    """The stretches to look at, by number."""
    lines = [
        f"{s.number}: {s.fault or 'healthy'} named {s.named or 'nothing'}"
        for s in said
        if not s.right
    ]
    return "".join(f"{line}\n" for line in lines)


def _progress(done: int, whole: int, name: str) -> None:
    sys.stderr.write(f"\r{done} of {whole} stretches")
    sys.stderr.flush()
