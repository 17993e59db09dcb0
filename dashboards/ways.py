"""Where a site's rows and messages go: how each way out of the box is doing."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from firmware_bridge.daemon import Running
    from firmware_bridge.forward.status import SinkStatus
    from firmware_bridge.notify.runner import NotifierStatus


class Goes(StrEnum):
    """What goes this way."""

    ROWS = "rows"
    MESSAGES = "messages"


class Way(msgspec.Struct, frozen=True, kw_only=True):
    """One receiver of rows, or one way to tell people.

    `condition` is the word of its runner; `waiting` are rows or messages not through yet, the
    oldest since `waits_since_ms`; `worked_ms` is when something last got through, None: nothing
    since the start. `trouble` is what was wrong last, in words, with what to do while it still is.
    """

    name: str
    goes: Goes
    condition: str
    waiting: int = 0
    waits_since_ms: int | None = None
    worked_ms: int | None = None
    trouble: str = ""
    trouble_ms: int | None = None
    hint: str = ""


def ways_of(running: Running) -> Callable[[], tuple[Way, ...]]:
    """What tells how every way out of a running site is doing."""
    return lambda: (
        *(_way(sink.status, Goes.ROWS, sink.status.backlog) for sink in running.sinks),
        *(_way(told.status, Goes.MESSAGES, told.status.waiting) for told in running.notifiers),
    )


def _way(status: SinkStatus | NotifierStatus, goes: Goes, waiting: int) -> Way:
    return Way(
        name=status.name,
        goes=goes,
        condition=str(status.condition),
        waiting=waiting,
        waits_since_ms=status.waits_since_ms,
        worked_ms=status.worked_ms,
        trouble=status.trouble or status.last_trouble,
        trouble_ms=status.last_trouble_ms,
        hint=status.hint,
    )
