"""What a sink is: the words that every file of this folder and its runner share.

A sink takes rows of the store to somewhere else. It is one file of `sinks/` that defines `SINK`;
the runner waits, tries again and counts, the sink only sends and says what went wrong:

    returns               the far side took every row, which is not yet a promise to keep it
    PartialWrite          the far side took all but the rows named, which are kept aside
    SinkError, retryable  nothing is known: the same rows are sent again, which must do no harm
    SinkError, else       a person has to mend something: the rows wait, tried again seldom
    SinkBusy              the far side asks for a rest of so many seconds

A row is done with when the far side has it for good, which only `heard` tells: a success of `send`
moves no cursor.
"""

from __future__ import annotations

import importlib
import math
import pkgutil
from collections.abc import Callable, Sequence
from importlib.metadata import version
from typing import Any, Protocol

import msgspec

from analytics.errors import SinkError
from analytics.setup import LineSetup, Opening, SiteSetup
from firmware_bridge.forward import sinks
from firmware_bridge.store.out_row import OutRow


class LineCard(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a far reader is told of one line, once: enough to show its pages.

    `size` is what the cartridge's size is called. `limits` are the alarm limits, each with its unit
    in its name; `profile` names the brew-water profile. The other fields are those of the line's
    set-up: what a new cartridge takes up, how it is measured, what share goes past it.
    """

    line_id: str
    medium: str
    machines: tuple[str, ...] = ()
    size: str = ""
    capacity_mmol: float | None = None
    capacity_kind: str = ""
    capacity_relative_sd: float | None = None
    rated_l: float | None = None
    time_limit_days: float | None = None
    carbon_l: float | None = None
    bypass: float = 0.0
    outlet_probe: bool = True
    inlet_probe: bool = False
    flow_meter: bool = True
    pulses_per_l: float | None = None
    litres_a_day: float | None = None
    rated_flow_l_min: float | None = None
    end_share: float | None = None
    limits: dict[str, float] = {}
    profile: str = ""


class SiteCard(msgspec.Struct, frozen=True, kw_only=True):
    """Who is sending: what a far reader is told of the site, once a connection.

    `box` is the random id of the site's record, so that a second box under the same name shows.
    """

    site_id: str
    name: str = ""
    service: str = ""
    program: str = ""
    box: str = ""
    what: str = ""
    time_zone: str = "UTC"
    opening: Opening = ()
    lines: tuple[LineCard, ...] = ()


def card_of(setup: SiteSetup, box: str = "") -> SiteCard:
    """The card of a site as it is set up; no name of a person is on it."""
    return SiteCard(
        site_id=setup.site_id,
        name=setup.name,
        service=setup.service,
        program=version("lastlitre"),
        box=box,
        what=setup.what,
        time_zone=setup.time_zone,
        opening=setup.opening,
        lines=tuple(_line_card(line) for line in setup.lines),
    )


def _line_card(line: LineSetup) -> LineCard:
    limits = msgspec.structs.asdict(line.limits)
    profile = limits.pop("profile")
    shared = {
        name: getattr(line, name)
        for name in LineCard.__struct_fields__
        if name not in ("limits", "profile", "capacity_kind")
    }
    return LineCard(
        **shared,
        capacity_kind=line.capacity_kind.value,
        limits={name: value for name, value in limits.items() if value is not None},
        profile=profile,
    )


class SinkBusy(SinkError):  # noqa: N818 - the name is what it is, not that it is an error
    """Raised when the far side asks to be left alone for `rest_s` seconds."""

    def __init__(self, message: str, hint: str = "", *, rest_s: float) -> None:
        super().__init__(message, hint, retryable=True)
        self.rest_s = rest_s


class Span(msgspec.Struct, frozen=True):
    """The site numbers above `after`, up to and with `up_to`."""

    after: int
    up_to: int


class Parcel(msgspec.Struct, frozen=True, kw_only=True):
    """All rows the store has of the numbers above `after` and up to `up_to`, oldest first.

    A number in between that no row has will never come: it aged out, or was made void. `again`
    says that the span was sent before and the sink asked for it (`Heard.again`).
    """

    after: int
    up_to: int
    rows: tuple[OutRow, ...]
    again: bool = False


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """What a sink knows of its far side.

    Every row up to `durable_up_to` is there for good (None: it has not said anything yet). `again`
    is a span that was sent and has to be sent once more. `unreadable` counts what came from there
    and could not be understood, since the start.
    """

    durable_up_to: int | None = None
    again: Span | None = None
    unreadable: int = 0


class OpenSink(Protocol):
    """A sink at work. All methods block; they are called from one thread at a time.

    Only `close` may be called while another method is still waiting; it ends that wait.
    """

    def send(self, parcel: Parcel) -> None:
        """Deliver the rows, oldest first. Raises SinkError, PartialWrite or SinkBusy."""
        ...

    def heard(self) -> Heard:
        """How the far side stands; a sink that keeps a line open opens it. Raises SinkError."""
        ...

    def show_now(self, rows: Sequence[OutRow]) -> None:
        """Show the newest rows out of turn, while older ones still wait. Raises SinkError."""
        ...

    def close(self) -> None:
        """Take leave of the far side; never raises."""
        ...


class Sink(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of sink. `open` gets its options, the site's card and a clock (ms of UTC).

    `open` does no I/O but may import a heavy library; the first `heard` or `send` connects.
    """

    name: str
    options: type[msgspec.Struct]
    open: Callable[[Any, SiteCard, Callable[[], int]], OpenSink]
    rows_a_send: int
    """At most so many rows go into one `send`."""
    shows_now: bool = False
    """Whether `show_now` does anything."""
    window_rows: int = 0
    """Once the far side has spoken, at most so many rows are on their way to it; 0 is no limit."""
    keeps_line: bool = False
    """Whether a line stays open: `heard` proves then that the far side is there, and a stop waits a
    moment for its last word."""


def sink_of_kind(kind: str) -> Sink:
    """The sink of this name, loading its file and no other; raises LookupError."""
    names = [module.name for module in pkgutil.iter_modules(sinks.__path__)]
    name = kind.replace("-", "_")
    if name not in names:
        raise LookupError(f"no sink is called {kind!r}")
    found = importlib.import_module(f"{sinks.__name__}.{name}").SINK
    if not isinstance(found, Sink):
        raise TypeError(f"{sinks.__name__}.{name} must define SINK, a Sink")
    return found


def why_unfit(row: OutRow) -> str:
    """Why no sink can carry this row; empty for a good one."""
    if not math.isfinite(sum(row.numbers.values())):
        for name, value in row.numbers.items():
            if not math.isfinite(value):
                return f"{name} is {value}, which is not a number"
    for name, text in row.words.items():
        if not is_text(text):
            return f"{name} is not readable text"
    return ""


def is_text(text: str) -> bool:
    """Whether a text can be written as UTF-8 (half a surrogate pair cannot)."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
