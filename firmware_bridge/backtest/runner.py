"""Every recording with truth under a folder, replayed through the pipeline in parallel, scored."""

from __future__ import annotations

import multiprocessing
import os
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import closing
from pathlib import Path

import numpy as np

from analytics.draws import GAP_MS
from analytics.pipeline import Block, LineState, Step, advance, start
from analytics.samples import AlarmChange, Estimate, Floats
from analytics.setup import SiteSetup
from firmware_bridge import config
from firmware_bridge.backtest.counter import set_counter
from firmware_bridge.backtest.faults import NothingToScoreError
from firmware_bridge.backtest.report import Report
from firmware_bridge.backtest.score import Score, score
from firmware_bridge.backtest.truth import read_truth
from firmware_bridge.recording import open_recording, read_rows

RECORDINGS = ("recording.csv.gz", "recording.csv")
Progress = Callable[[int, int, str], None]


def nobody(done: int, total: int, name: str) -> None:
    """Progress that nobody watches."""


def backtest(folder: Path, progress: Progress = nobody, workers: int | None = None) -> Report:
    """Score every life under `folder`; `progress` gets lives done, lives in all, the last name.

    Raises NothingToScoreError where there is none, TruthError and ConfigError where one is broken,
    RecordingError where one cannot be read.
    """
    lives = find_lives(folder)
    if not lives:
        hint = "A life is a folder with recording.csv.gz, site.json and truth.json."
        raise NothingToScoreError(f"{folder}: no recording with truth", hint)
    workers = min(workers or os.cpu_count() or 1, len(lives))
    if workers == 1:
        scores = []
        for number, life in enumerate(lives, start=1):
            scores.append(score_life(life))
            progress(number, len(lives), life.name)
        return Report(scores=tuple(scores))
    return Report(scores=_side_by_side(lives, progress, workers))


def _side_by_side(lives: list[Path], progress: Progress, workers: int) -> tuple[Score, ...]:
    found: dict[Path, Score] = {}
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        jobs = {pool.submit(score_life, life): life for life in lives}
        for job in as_completed(jobs):
            found[jobs[job]] = job.result()
            progress(len(found), len(lives), jobs[job].name)
    return tuple(found[life] for life in lives)


def find_lives(folder: Path) -> list[Path]:
    """Folders with a recording, the installer's notes and the truth, by name."""
    truths = sorted(Path(folder).rglob("truth.json"))
    return [t.parent for t in truths if _recording(t.parent) and (t.parent / "site.json").exists()]


def _recording(life: Path) -> Path | None:
    return next((life / name for name in RECORDINGS if (life / name).exists()), None)


def score_life(life: Path) -> Score:
    """Replay one life and score it."""
    truth = read_truth(life / "truth.json")
    path = _recording(life)
    assert path is not None, "find_lives gives only folders with a recording"
    setup = site_of(life)
    begun = time.perf_counter()
    estimates, alarms, counted = watch_life(setup, path)
    seconds = time.perf_counter() - begun
    counter = set_counter(setup.lines[0], setup.dated)
    return score(truth, estimates, alarms, counter, counted, seconds)


def site_of(life: Path) -> SiteSetup:
    """The site that the installer's notes of a life amount to, compiled as any site file is."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "site.toml"
        path.write_text(config.from_notes(life / "site.json"), encoding="utf-8")
        return config.load(path, Path(folder)).setup


class _Seen:
    """Estimates and alarms as they come, and the draws that were counted."""

    def __init__(self) -> None:
        self.estimates: list[Estimate] = []
        self.alarms: list[AlarmChange] = []
        self.ends: list[int] = []
        self.pulses: list[int] = []

    def take(self, step: Step) -> LineState:
        """Keep what one block brought; the state after it."""
        self.estimates += step.estimates
        self.alarms += step.alarms
        self.ends += step.draws.end_ms.tolist()
        self.pulses += step.draws.pulses.tolist()
        return step.state


def watch_life(setup: SiteSetup, path: Path) -> tuple[list[Estimate], list[AlarmChange], Floats]:
    """Estimates and alarms of a recording, and the litres the meter had counted at each."""
    line, waiting, end = setup.lines[0], sorted(setup.dated, key=lambda e: e.at_ms), 0
    state, seen = start(line, setup.seed), _Seen()
    recording = open_recording(path)
    with closing(recording.raw or recording.stream), closing(recording.stream):
        for rows in read_rows(recording):
            end = int(rows.at_ms[-1])
            due = tuple(e for e in waiting if e.at_ms <= end)
            waiting = waiting[len(due) :]
            block = Block(end_ms=end, rows=rows, events=due)
            state = seen.take(advance(line, setup.local_time, setup.seed, state, block))
    last = Block(end_ms=end + GAP_MS + 1)
    seen.take(advance(line, setup.local_time, setup.seed, state, last))
    at = [e.at_ms for e in seen.estimates]
    litres = np.cumsum(seen.pulses) / line.pulses_per_l
    counted = np.interp(at, seen.ends, litres) if seen.ends else np.zeros(len(at))
    return seen.estimates, seen.alarms, counted
