"""Dated faults of recorded lives: which were named, how soon, and what was named for nothing.

python -m tests.faulty.recorded FOLDER     recordings with their truth beside them
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from analytics.pipeline import Block, advance, start
from analytics.samples import DAY_MS, HOUR_MS, AnyEvent
from firmware_bridge.backtest.runner import find_lives, score_all, site_of
from firmware_bridge.backtest.truth import Happening, read_truth
from firmware_bridge.recording import open_recording, read_rows
from firmware_bridge.thrift import one_thread_of_algebra

LOOK_MS = 4 * HOUR_MS
GRACE_MS = 3 * DAY_MS
"""A fault that shows over whole days is named so long after its end at the latest."""
WINDOW_MS = 14 * DAY_MS
"""What days told stays told while they are looked back on."""
MONTH_DAYS = 30.4

Stood = dict[tuple[str, str], list[tuple[int, int]]]
"""By code and meter: spans in which it stood."""


class Dated(msgspec.Struct, frozen=True, kw_only=True):
    """A dated fault, what it ought to be named, and hours until it was (None: never)."""

    life: str
    ought: str
    optional: bool
    named_h: float | None


class Watched(msgspec.Struct, frozen=True, kw_only=True):
    """A life: its dated faults, what else was named and when, and days watched."""

    life: str
    dated: tuple[Dated, ...]
    unfounded: tuple[str, ...]
    days: float


def ought_of(happening: Happening) -> str:
    """The code of a dated event; empty for what is none."""
    if happening.kind == "probe_fault":
        return "film" if "fouling" in happening.note else "no-reading"
    return {"logger_outage": "data-gap", "leak": "leak", "source_change": "raw-water-changed"}.get(
        happening.kind, ""
    )


def findings_of(life: Path) -> tuple[Stood, int, int]:
    """What stood when, and from when until when the life was watched."""
    setup = site_of(life)
    line, waiting = setup.lines[0], sorted(setup.dated, key=lambda e: e.at_ms)
    recording = open_recording(next(life.glob("recording.csv*")))
    state, stood, begin, at = start(line, setup.seed), Stood(), 0, 0
    for rows in read_rows(recording):
        begin = begin or int(rows.at_ms[0])
        for cut in _cuts(int(rows.at_ms[0]), int(rows.at_ms[-1])):
            due: tuple[AnyEvent, ...] = tuple(e for e in waiting if e.at_ms <= cut)
            waiting = waiting[len(due) :]
            first, last = rows.at_ms.searchsorted((at, cut), side="right")
            block = Block(end_ms=cut, rows=rows.cut(int(first), int(last)), events=due)
            state = advance(line, setup.local_time, setup.seed, state, block).state
            at = cut
            for found in state.watch.diagnosis.findings:
                _note(stood, (found.code, found.which), at)
    recording.stream.close()
    return stood, begin, at


def _cuts(first: int, last: int) -> list[int]:
    return [*range((first // LOOK_MS + 1) * LOOK_MS, last, LOOK_MS), last]


def _note(stood: Stood, key: tuple[str, str], at: int) -> None:
    spans = stood.setdefault(key, [])
    if spans and at - spans[-1][1] <= DAY_MS:
        spans[-1] = (spans[-1][0], at)
    else:
        spans.append((at, at))


def watched(life: Path) -> Watched:
    """One life."""
    truth = read_truth(life / "truth.json")
    stood, begin, end = findings_of(life)
    happened = [h for h in truth.happenings if ought_of(h)]
    dated = tuple(
        Dated(
            life=truth.name,
            ought=ought_of(h),
            optional=h.optional,
            named_h=_named_h(h, stood, end),
        )
        for h in happened
    )
    days = (end - begin) / DAY_MS
    return Watched(
        life=truth.name, dated=dated, unfounded=tuple(_unfounded(happened, stood)), days=days
    )


def _named_h(happening: Happening, stood: Stood, end: int) -> float | None:
    until = (happening.end_ms or end) + GRACE_MS
    begun = [
        max(first, happening.start_ms)
        for (code, _), spans in stood.items()
        if code == ought_of(happening)
        for first, last in spans
        if last >= happening.start_ms and first <= until
    ]
    return (min(begun) - happening.start_ms) / HOUR_MS if begun else None


def _unfounded(happened: Sequence[Happening], stood: Stood) -> Iterator[str]:
    """Findings that stood while nothing of their name happened, in words."""
    for (code, which), spans in stood.items():
        for first, last in spans:
            founded = any(
                ought_of(h) == code
                and last >= h.start_ms
                and (h.end_ms is None or first <= h.end_ms + WINDOW_MS)
                for h in happened
            )
            if not founded:
                yield f"{code} {which}".strip() + f" for {(last - first) / DAY_MS:.1f} days"


def main() -> None:
    """The table."""
    one_thread_of_algebra()
    found = score_all(watched, find_lives(Path(sys.argv[1])), workers=1)
    say = sys.stdout.write
    for life in found:
        say(f"{life.life}, {life.days:.0f} days\n")
        for one in life.dated:
            when = "never" if one.named_h is None else f"after {one.named_h:.0f} h"
            say(f"  {one.ought}{' (optional)' if one.optional else ''}: {when}\n")
        for name in life.unfounded:
            say(f"  unfounded: {name}\n")
    dated = [one for life in found for one in life.dated]
    named = sum(one.named_h is not None for one in dated)
    months = sum(life.days for life in found) / MONTH_DAYS
    unfounded = sum(len(life.unfounded) for life in found)
    say(f"named {named} of {len(dated)}; unfounded {unfounded} in {months:.1f} site-months\n")


if __name__ == "__main__":
    main()
