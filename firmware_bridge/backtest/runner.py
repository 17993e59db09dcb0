"""Every recording with truth under a folder, replayed through the pipeline in parallel, scored."""

from __future__ import annotations

import multiprocessing
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import closing
from pathlib import Path
from typing import TypeVar

import numpy as np

from analytics.draws import GAP_MS
from analytics.errors import LastLitreError
from analytics.pipeline import Block, LineState, Step, advance, start
from analytics.samples import AlarmChange, Estimate, Floats
from analytics.setup import SiteSetup
from analytics.weigh import due_ms
from firmware_bridge import config
from firmware_bridge.backtest.counter import set_counter
from firmware_bridge.backtest.faults import NothingToScoreError
from firmware_bridge.backtest.left_out import LeftOut
from firmware_bridge.backtest.report import Report
from firmware_bridge.backtest.score import Score, score
from firmware_bridge.backtest.truth import read_truth
from firmware_bridge.recording import open_recording, read_rows

Job = TypeVar("Job")
Result = TypeVar("Result")

RECORDINGS = ("recording.csv.gz", "recording.csv")
WHAT_A_LIFE_IS = "A life is a folder with recording.csv.gz, site.json and truth.json."
Progress = Callable[[int, int, str], None]


def nobody(done: int, total: int, name: str) -> None:
    """Progress that nobody watches."""


def backtest(folder: Path, progress: Progress = nobody, workers: int | None = None) -> Report:
    """Score every life under `folder`; `progress` gets lives done, lives in all, the last name.

    A recording that cannot be scored is left out and named. Raises NothingToScoreError where none
    can be.
    """
    if not folder.is_dir():
        problem = "is no folder" if folder.exists() else "is not there"
        raise NothingToScoreError(f"{folder} {problem}.", WHAT_A_LIFE_IS)
    lives, left_out = find_lives(folder), unfit(folder)
    if not lives:
        raise NothingToScoreError(
            f"{folder}: no recording with truth.{_told(left_out)}", WHAT_A_LIFE_IS
        )
    found = score_all(score_or_why, lives, progress, workers)
    scores = tuple(each for each in found if isinstance(each, Score))
    left_out += tuple(each for each in found if isinstance(each, LeftOut))
    if not scores:
        raise NothingToScoreError(
            f"{folder}: no recording could be scored.{_told(left_out)}", WHAT_A_LIFE_IS
        )
    return Report(scores=scores, left_out=left_out)


def score_all(
    work: Callable[[Job], Result],
    jobs: Sequence[Job],
    progress: Progress = nobody,
    workers: int | None = None,
) -> list[Result]:
    """The work of every job, in their order, done by so many processes (default: a core each)."""
    workers = min(workers or os.cpu_count() or 1, len(jobs))
    if workers <= 1:
        done = []
        for job in jobs:
            done.append(work(job))
            progress(len(done), len(jobs), name_of(job))
        return done
    found: dict[int, Result] = {}
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        running = {pool.submit(work, job): place for place, job in enumerate(jobs)}
        for ended in as_completed(running):
            place = running[ended]
            found[place] = ended.result()
            progress(len(found), len(jobs), name_of(jobs[place]))
    return [found[place] for place in range(len(jobs))]


def name_of(job: object) -> str:
    """How a job is called while it is watched."""
    return job.name if isinstance(job, Path) else str(job)


def _told(left_out: tuple[LeftOut, ...]) -> str:
    return "".join(f"\n  {one.name}: {one.why}" for one in left_out)


def find_lives(folder: Path) -> list[Path]:
    """Folders with a recording, the installer's notes and the truth, by name."""
    truths = sorted(Path(folder).rglob("truth.json"))
    return [t.parent for t in truths if _recording(t.parent) and (t.parent / "site.json").exists()]


def unfit(folder: Path) -> tuple[LeftOut, ...]:
    """Recordings under a folder that cannot be scored, and what they lack."""
    places = {path.parent for name in RECORDINGS for path in folder.rglob(name)}
    found = []
    for place in sorted(places | {truth.parent for truth in folder.rglob("truth.json")}):
        lacks = [name for name in ("truth.json", "site.json") if not (place / name).exists()]
        if _recording(place) is None:
            lacks.append(RECORDINGS[0])
        if lacks:
            why = f"{' and '.join(lacks)} {'is' if len(lacks) == 1 else 'are'} not there"
            found.append(LeftOut(name=place.name, why=why))
    return tuple(found)


def _recording(life: Path) -> Path | None:
    return next((life / name for name in RECORDINGS if (life / name).exists()), None)


def score_or_why(life: Path) -> Score | LeftOut:
    """The score of one life; where its files are broken, what is wrong with them."""
    try:
        return score_life(life)
    except LastLitreError as fault:
        return LeftOut(name=life.name, why=" ".join(str(fault).split("\n")))


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
            due = tuple(e for e in waiting if due_ms(e) <= end)
            waiting = [e for e in waiting if due_ms(e) > end]
            block = Block(end_ms=end, rows=rows, events=due)
            state = seen.take(advance(line, setup.local_time, setup.seed, state, block))
    last = Block(end_ms=end + GAP_MS + 1)
    seen.take(advance(line, setup.local_time, setup.seed, state, last))
    at = [e.at_ms for e in seen.estimates]
    litres = np.cumsum(seen.pulses) / line.pulses_per_l
    counted = np.interp(at, seen.ends, litres) if seen.ends else np.zeros(len(at))
    return seen.estimates, seen.alarms, counted
