"""Run a recording through the very pipeline that runs live, and write what it found.

`estimates.csv` has a row at least every six hours of recording time, `alarms.csv` a row a change.
"""

from __future__ import annotations

import csv
import math
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec

from analytics.draws import GAP_MS
from analytics.pipeline import Block, LineState, Step, advance, start
from analytics.quantities import DH_MMOL_L
from analytics.samples import AlarmChange, AnyEvent, Estimate, Rows, Spread
from analytics.setup import LineSetup, SiteSetup
from analytics.weigh import due_ms
from firmware_bridge.recording import Aside, Recording, open_recording, read_rows

SPREADS = ("remaining_l", "days_left", "outlet_hardness_dH")
MORE = ("treated_hardness_dH", "raw_hardness_dH", "bypass_percent", "used_percent")
COLUMNS = (
    "time",
    *(f"{name}_{point}" for name in SPREADS for point in ("p50", "p05", "p95")),
    *(f"{name}_{point}" for name in MORE for point in ("p50", "p05", "p95")),
    "end_probability",
    "ends_by",
    "time_limit",
    "carbon_left_l",
    "litres_passed",
    "rests_on_litres",
    "rests_on_conductivity",
    "rests_on_drop_tests",
    "trusted",
    "reason",
)


class Found(msgspec.Struct):
    """What a replay did, for the person who ran it."""

    rows: int = 0
    draws: int = 0
    estimates: int = 0
    first_ms: int = 0
    last_ms: int = 0
    litres: float = 0.0
    seconds: float = 0.0
    last: Estimate | None = None
    alarms: list[AlarmChange] = msgspec.field(default_factory=list)
    aside: Aside = msgspec.field(default_factory=Aside)


def replay(
    setup: SiteSetup,
    line: LineSetup,
    path: Path,
    out: Path,
    progress: Callable[[float], None] = lambda share: None,
) -> Found:
    """Replay one line's recording into `out`; returns what was found.

    Raises RecordingError where the file cannot be read at all, OSError where `out` cannot be made.
    """
    out.mkdir(parents=True, exist_ok=True)
    recording, found, begun = open_recording(path), Found(), time.monotonic()
    found.aside = recording.aside
    with (
        (out / "estimates.csv").open("w", newline="", encoding="utf-8") as estimates,
        (out / "alarms.csv").open("w", newline="", encoding="utf-8") as alarms,
    ):
        of_estimates, of_alarms = csv.writer(estimates), csv.writer(alarms)
        of_estimates.writerow(COLUMNS)
        of_alarms.writerow(("time", "alarm", "change", "state", "priority", "variant"))
        for step in _steps(setup, line, recording, found):
            of_estimates.writerows(estimate_row(e) for e in step.estimates)
            of_alarms.writerows(
                (iso(a.at_ms), a.alarm, a.change, a.state, a.priority, a.word) for a in step.alarms
            )
            _count(found, step, line)
            progress(recording.progress())
    found.seconds = time.monotonic() - begun
    return found


def _steps(setup: SiteSetup, line: LineSetup, recording: Recording, found: Found) -> Iterator[Step]:
    state = start(line, setup.seed)
    waiting = sorted(
        (e for e in setup.dated if e.line_id in ("", line.line_id)), key=lambda e: e.at_ms
    )
    for rows in read_rows(recording):
        end = int(rows.at_ms[-1])
        due = [e for e in waiting if due_ms(e) <= end]
        waiting = [e for e in waiting if due_ms(e) > end]
        _measure(found, rows)
        step = advance(line, setup.local_time, setup.seed, state, _block(end, rows, due))
        state = step.state
        yield step
    if found.rows:
        yield _last(setup, line, state, found)


def _block(end_ms: int, rows: Rows, events: Iterable[AnyEvent]) -> Block:
    return Block(end_ms=end_ms, rows=rows, events=tuple(events))


def _last(setup: SiteSetup, line: LineSetup, state: LineState, found: Found) -> Step:
    """Close the last draw, so that the last litres count too."""
    block = Block(end_ms=found.last_ms + GAP_MS + 1)
    return advance(line, setup.local_time, setup.seed, state, block)


def _measure(found: Found, rows: Rows) -> None:
    found.first_ms = found.first_ms or int(rows.at_ms[0])
    found.last_ms = int(rows.at_ms[-1])
    found.rows += len(rows)


def _count(found: Found, step: Step, line: LineSetup) -> None:
    found.draws += len(step.draws)
    found.litres += int(step.draws.pulses.sum()) / line.pulses_per_l
    found.estimates += len(step.estimates)
    found.alarms += step.alarms
    if step.estimates:
        found.last = step.estimates[-1]


def iso(at_ms: float) -> str:
    """An instant as text, UTC to the second."""
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _three(spread: Spread | None, factor: float = 1.0, digits: int = 2) -> tuple[Any, ...]:
    if spread is None:
        return ("", "", "")
    figures = (spread.p50 * factor, spread.p05 * factor, spread.p95 * factor)
    return tuple(round(f, digits) if math.isfinite(f) else "" for f in figures)


def estimate_row(estimate: Estimate) -> tuple[Any, ...]:
    """One estimate as a row under `COLUMNS`."""
    in_dh = 1.0 / DH_MMOL_L
    rests, limit = estimate.rests_on, estimate.time_limit_ms
    carbon = estimate.carbon_left_l
    return (
        iso(estimate.at_ms),
        *_three(estimate.remaining_l, 1.0, 1),
        *_three(estimate.days_left),
        *_three(estimate.outlet_mmol_l, in_dh, 3),
        *_three(estimate.treated_mmol_l, in_dh, 3),
        *_three(estimate.raw_mmol_l, in_dh, 3),
        *_three(estimate.bypass, 100.0),
        *_three(estimate.used_share, 100.0),
        round(estimate.end_probability, 4),
        estimate.ends_by,
        "" if limit is None else iso(limit),
        "" if carbon is None else round(carbon, 1),
        round(estimate.litres_passed, 1),
        round(rests.litres, 3),
        round(rests.conductivity, 3),
        round(rests.drop_tests, 3),
        "yes" if estimate.trusted else "no",
        estimate.reason,
    )
