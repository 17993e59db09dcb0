"""What each button does: a page in, a page and acts out. Pure; the acts are written elsewhere."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from typing import Any, Final

import msgspec

from analytics.errors import ActRefused
from analytics.samples import HOUR_MS, AnyEvent, Commissioning, Rows
from analytics.setup import LineSetup
from dashboards.commissioning.checks import passes
from dashboards.commissioning.progress import Progress, Taken, begun
from dashboards.commissioning.steps import STEPS, after, passed_over
from dashboards.commissioning.typed import Typed

WORK_MS: Final = 4 * HOUR_MS


class Ask(msgspec.Struct, frozen=True, kw_only=True):
    """A button that was pressed: by whom, when, with what typed, and what the meters said.
    `done_ms` is when it was pressed, `now_ms` the instant now."""

    page: Progress
    line: LineSetup
    typed: Typed
    rows: Rows
    who: str
    now_ms: int

    def say(self, key: str, **values: str | int) -> str:
        """A note in the words of whoever works."""
        return self.typed.reader.say(key, **values)

    def event(self, kind: type[Any], note: str = "", at_ms: int | None = None, **more: Any) -> Any:
        """An act of this line, now."""
        at = self.now_ms if at_ms is None else at_ms
        return kind(at_ms=at, known_at_ms=at, line_id=self.line.line_id, note=note, **more)


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """The page as it becomes, and acts by name. `passed`: the step is to be taken if it passes."""

    page: Progress
    acts: dict[str, AnyEvent] = {}
    passed: bool = False


Doing = Callable[[Ask], Move]
DOINGS: Final[dict[tuple[str, str], Doing]] = {}


def doing(step: str, act: str) -> Callable[[Doing], Doing]:
    """Names what a button of a step does."""

    def keep(work: Doing) -> Doing:
        DOINGS[step, act] = work
        return work

    return keep


def changed(ask: Ask, **more: Any) -> Progress:
    """The page with some of it changed."""
    return msgspec.structs.replace(ask.page, **more)


def move(ask: Ask, step: str, act: str) -> Move:
    """What pressing `act` on `step` comes to. Raises ActRefused for what cannot be."""
    if step not in STEPS or passed_over(step, ask.line):
        raise ActRefused([("step", "choice")])
    if act == "leave":
        return Move(page=_left(ask, after(step, ask.line)))
    if act == "anew":
        return Move(page=_anew(ask))
    work = DOINGS.get((step, act))
    if work is None:
        raise ActRefused([("step", "choice")])
    page = ask.page if ask.page.here == step else _left(ask, step)
    found = work(msgspec.structs.replace(ask, page=page))
    if found.passed:
        found = _settled(found, ask, step)
    return _quiet(found, ask)


def _settled(found: Move, ask: Ask, step: str) -> Move:
    """A step that passes is taken and the next one is here; its acts go with it. One that does not
    stays here, its acts unsaid."""
    old = found.page.taken.get(step)
    taken = Taken(at_ms=ask.now_ms, who=ask.who, entries=old.entries if old else {})
    there = msgspec.structs.replace(found.page, taken=found.page.taken | {step: taken})
    if not passes(step, there, ask.line, ask.typed.reader):
        return Move(page=found.page)
    here = after(step, ask.line)
    there = msgspec.structs.replace(there, here=here, draft={}, since_ms=0)
    return msgspec.structs.replace(found, page=there)


def _left(ask: Ask, step: str) -> Progress:
    return changed(ask, here=step, draft={}, since_ms=0)


def _anew(ask: Ask) -> Progress:
    """A page with nothing on it; it grows older all the same, so that old forms are known."""
    fresh = begun(ask.line.line_id, ask.now_ms)
    return msgspec.structs.replace(fresh, turn=ask.page.turn)


def _quiet(found: Move, ask: Ask) -> Move:
    """What is done keeps alarms quiet for some hours: somebody works on the line."""
    if ask.now_ms < found.page.quiet_until_ms:
        return found
    until_ms = ask.now_ms + WORK_MS
    page = msgspec.structs.replace(
        found.page, begun_ms=found.page.begun_ms or ask.now_ms, quiet_until_ms=until_ms
    )
    work = ask.event(Commissioning, ask.say("fit.note"), until_ms=until_ms)
    return msgspec.structs.replace(found, page=page, acts={"work": work} | found.acts)


def entry_id(page: Progress, step: str, name: str) -> str:
    """The id that an act of this page gets: the same again where the box died before the page was
    kept, so that it is written once."""
    line = zlib.crc32(page.line_id.encode())
    return f"fit-{line:08x}-{page.begun_ms:x}-{page.turn}-{step}-{name}"[:60]


def kept(page: Progress, step: str, entries: dict[str, str], now_ms: int) -> Progress:
    """The page after its acts were written: their entries noted, one turn on."""
    taken = page.taken
    if entries and step in taken:
        old = taken[step]
        one = msgspec.structs.replace(old, entries=old.entries | entries)
        taken = taken | {step: one}
    return msgspec.structs.replace(page, taken=taken, turn=page.turn + 1, saved_ms=now_ms)
