"""The words every way of telling shares: a notice, a message made of notices, a notifier.

A notifier only sends and says what went wrong; the runner waits, tries again and remembers:

    returns               the far side has taken the message
    SinkError, retryable  nothing is known: the same message, with the same key, is sent again
    SinkError, else       a person has to mend something: it is tried again seldom
"""

from __future__ import annotations

import hashlib
import importlib
import pkgutil
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import Any, Protocol

import msgspec

from analytics.samples import AlarmChange
from firmware_bridge.notify import channels


class Why(StrEnum):
    """Why a notice is sent."""

    RAISED = "raised"
    AGAIN = "again"
    ESCALATED = "escalated"
    CLEARED = "cleared"
    DIGEST = "digest"


class Notice(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to tell. `key` names it for ever: it is told once by each notifier.

    `change` is the raising it is about. A digest has none; it lists what `stands` and counts what
    is `new` since a day.
    """

    key: str
    why: Why
    line_id: str = ""
    change: AlarmChange | None = None
    stands: tuple[tuple[str, AlarmChange], ...] = ()
    new: int = 0

    @property
    def urgent(self) -> bool:
        """Whether it does not wait for quiet hours to end."""
        return self.change is not None and self.change.priority == "high"


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """Notices in a person's words: a subject, the whole text, and the parts of each notice."""

    subject: str
    text: str
    parts: tuple[dict[str, str], ...]


class Teller(Protocol):
    """Whoever knows the catalogue of texts."""

    def tell(self, notices: Sequence[Notice], now_ms: int) -> Told:
        """These notices as one message."""
        ...


class Message(msgspec.Struct, frozen=True, kw_only=True):
    """What is sent in one go; `key` is the same however often it is tried."""

    key: str
    site_id: str
    at_ms: int
    notices: tuple[Notice, ...]
    told: Told
    escalated: bool = False

    @property
    def urgent(self) -> bool:
        """Whether one of its notices is."""
        return any(notice.urgent for notice in self.notices)


class NoticeJson(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One notice as JSON; version 1. Numbers have their unit in their name."""

    key: str
    why: str
    line: str = ""
    alarm: str = ""
    priority: str = ""
    state: str = ""
    variant: str = ""
    at_ms: int = 0
    numbers: dict[str, float] = {}
    words: dict[str, str] = {}


class MessageJson(msgspec.Struct, frozen=True, kw_only=True):
    """A message as JSON; a receiver that has seen a `key` may pass it over."""

    v: int = 1
    site: str
    key: str
    at_ms: int
    subject: str
    text: str
    notices: tuple[NoticeJson, ...]


def as_json(message: Message) -> bytes:
    """A message as JSON text."""
    pairs = zip(message.notices, message.told.parts, strict=True)
    told = MessageJson(
        site=message.site_id,
        key=message.key,
        at_ms=message.at_ms,
        subject=message.told.subject,
        text=message.told.text,
        notices=tuple(_notice_json(notice, words) for notice, words in pairs),
    )
    return msgspec.json.encode(told)


def _notice_json(notice: Notice, words: dict[str, str]) -> NoticeJson:
    change = notice.change
    if change is None:
        return NoticeJson(key=notice.key, why=notice.why.value, words=words)
    return NoticeJson(
        key=notice.key,
        why=notice.why.value,
        line=notice.line_id,
        alarm=change.alarm,
        priority=change.priority,
        state=change.state,
        variant=change.word,
        at_ms=change.at_ms,
        numbers=change.numbers,
        words=words,
    )


def message_key(notices: Sequence[Notice]) -> str:
    """One key for these notices together."""
    joined = "\n".join(notice.key for notice in notices)
    return hashlib.sha256(joined.encode()).hexdigest()[:32]


class OpenNotifier(Protocol):
    """A notifier at work. `send` blocks; it is called from one thread at a time."""

    def send(self, message: Message) -> None:
        """Hand the message over. Raises SinkError."""
        ...

    def close(self) -> None:
        """Take leave of the far side; never raises."""
        ...


class Notifier(msgspec.Struct, frozen=True, kw_only=True):
    """A way to tell people. `open` gets its options with the secrets put in, and the site's id."""

    name: str
    options: type[msgspec.Struct]
    open: Callable[[Any, str], OpenNotifier]


def notifier_of_kind(kind: str) -> Notifier:
    """The notifier of this name, loading its file and no other; raises LookupError."""
    names = [module.name for module in pkgutil.iter_modules(channels.__path__)]
    name = kind.replace("-", "_")
    if name not in names:
        raise LookupError(f"no notifier is called {kind!r}")
    found = importlib.import_module(f"{channels.__name__}.{name}").NOTIFIER
    if not isinstance(found, Notifier):
        raise TypeError(f"{channels.__name__}.{name} must define NOTIFIER, a Notifier")
    return found
