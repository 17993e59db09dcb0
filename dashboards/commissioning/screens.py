"""A step as a screen, in words and drawings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final
from urllib.parse import urlencode

from dashboards.commissioning import task_proposal, tasks_meters, tasks_water
from dashboards.commissioning.checks import checks_of
from dashboards.commissioning.screen import Live, Mark, Screen, Shot, Task
from dashboards.commissioning.steps import STEPS, next_probe, number, passed_over, probes
from dashboards.signs import check_bead

TASKS: Final[dict[str, Callable[[Shot], Task]]] = {
    "flush": tasks_water.flush,
    "cartridge": tasks_water.cartridge,
    "raw": tasks_water.raw,
    "proposal": task_proposal.proposal,
    "dry": tasks_meters.dry,
    "standard": tasks_meters.standard,
    "zero": tasks_meters.zero,
    "jugs": tasks_meters.jugs,
    "bypass": tasks_water.bypass,
    "blended": tasks_water.blended,
    "run": tasks_meters.run,
    "handover": tasks_water.handover,
}
SIGNS: Final = {
    "pass": "fit.sign.pass",
    "not-yet": "fit.sign.not-yet",
    "outside": "fit.sign.outside",
}


def screen_of(shot: Shot, step: str, faults: tuple[str, ...] = ()) -> Screen:
    """The page at a step. May take seconds where a survey is asked for the first time."""
    say, page = shot.reader.say, shot.page
    over = passed_over(step, shot.line)
    task = Task(sentence=say(f"fit.over.{over}"), then=say("fit.over.then")) if over else None
    found = checks_of(step, page, shot.line, shot.reader)
    return Screen(
        line_id=shot.line.line_id,
        lines=tuple(line.line_id for line in shot.site.lines),
        step=step,
        turn=page.turn,
        stands=say("fit.stands-at", n=number(step), of=len(STEPS)),
        saved=say("fit.saved", moment=shot.when.moment(page.saved_ms)) if page.saved_ms else "",
        name=say(f"fit.step.{step}"),
        marks=tuple(_mark(shot, each, step) for each in STEPS),
        over=over,
        task=task or TASKS[step](shot),
        checks=tuple((check, check_bead(check.sign), say(SIGNS[check.sign])) for check in found),
        faults=faults,
    )


def _mark(shot: Shot, step: str, here: str) -> Mark:
    kind = "to-come"
    if passed_over(step, shot.line):
        kind = "over"
    elif step in shot.page.taken:
        kind = "done"
    elif STEPS.index(step) < STEPS.index(shot.page.here):
        kind = "open"
    if step == here:
        kind = f"{kind} at"
    query = urlencode({"line": shot.line.line_id, "step": step})
    word = shot.reader.say(f"fit.mark.{'here' if step == here else kind}")
    return Mark(
        step=step,
        name=shot.reader.say(f"fit.step.{step}"),
        kind=kind,
        word=word,
        href=f"/fit?{query}",
    )


def live_of(shot: Shot, step: str) -> tuple[Live, ...]:
    """The figures of a step that move."""
    if passed_over(step, shot.line):
        return ()
    if step == "flush":
        return tasks_water.flush_live(shot)
    if step == "jugs":
        return tasks_meters.jugs_live(shot)
    if step in ("dry", "standard"):
        probe = next_probe(shot.page, step, shot.line)
        return tasks_meters.probe_live(shot, (probe,)) if probe else ()
    if step == "zero":
        return tasks_meters.probe_live(shot, probes(shot.line), at_25=True)
    return tasks_meters.probe_live(shot, ("outlet",), at_25=True) if step == "run" else ()
