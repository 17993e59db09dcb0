"""What a screen is made of: one task, its live figures, its fields, its buttons."""

from __future__ import annotations

import msgspec
from markupsafe import Markup

from analytics.samples import Rows
from analytics.setup import LineSetup, SiteSetup
from dashboards.commissioning.checks import Check
from dashboards.commissioning.progress import Progress
from dashboards.commissioning.shown import Shown
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """A step on the margin line; `kind` is done, here, to-come, open (left without a pass) or
    over."""

    step: str
    name: str
    kind: str
    word: str
    href: str


class Live(msgspec.Struct, frozen=True, kw_only=True):
    """A figure that moves."""

    key: str
    name: str
    value: str


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """Something to type or choose. `step` is what - and + change it by; 0: none."""

    name: str
    label: str
    value: str = ""
    unit: str = ""
    sort: str = "number"
    step: float = 0.0
    choices: tuple[tuple[str, str], ...] = ()


class Button(msgspec.Struct, frozen=True, kw_only=True):
    """A button; `look` is filled, other or drop. `also` is a field that goes with it."""

    act: str
    words: str
    look: str = "other"
    also: tuple[str, str] | None = None


class Form(msgspec.Struct, frozen=True, kw_only=True):
    """Fields and buttons; with a `title` it is folded away under it."""

    fields: tuple[Field, ...] = ()
    buttons: tuple[Button, ...] = ()
    title: str = ""


class Task(msgspec.Struct, frozen=True, kw_only=True):
    """One step as it stands: the order in a sentence, what is measured, what can be done."""

    sentence: str
    then: str = ""
    live: tuple[Live, ...] = ()
    drawing: Markup = Markup("")
    drawing_phone: Markup = Markup("")
    form: Form = Form()
    folded: tuple[Form, ...] = ()
    result: tuple[str, str] | None = None
    ruler: Markup = Markup("")
    said: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    care: tuple[str, ...] = ()
    links: tuple[tuple[str, str], ...] = ()


class Shot(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a task is written from."""

    site: SiteSetup
    line: LineSetup
    page: Progress
    rows: Rows
    reader: Reader
    when: When

    @property
    def shown(self) -> Shown:
        """Writes figures."""
        return Shown(reader=self.reader)

    @property
    def now_ms(self) -> int:
        """The instant of the page."""
        return self.when.now_ms

    def draft(self, step: str, name: str, usual: str = "") -> str:
        """What was typed in a field and not yet used."""
        return self.page.draft.get(f"{step}.{name}", usual)


class Screen(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    line_id: str
    lines: tuple[str, ...]
    step: str
    turn: int
    stands: str
    saved: str
    name: str
    marks: tuple[Mark, ...]
    over: str
    task: Task
    checks: tuple[tuple[Check, Markup, str], ...]
    faults: tuple[str, ...] = ()
