"""What a person does about an alarm, made into dated facts for `SiteLoop.tell`.

Each is dated at the moment it is told and has an id of its own, so that it counts once.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from analytics.alarm import rules
from analytics.alarm_life import LONGEST_SHELF_MS
from analytics.errors import LastLitreError
from analytics.samples import (
    DAY_MS,
    Acknowledged,
    Commissioning,
    InService,
    OutOfService,
    Shelved,
    Unshelved,
)

LONGEST_WORK_MS = 7 * DAY_MS


class NotDone(LastLitreError):  # noqa: N818 - the name is what it is
    """Raised when an act cannot be taken; the hint says what is missing."""


def acknowledge(alarm: str, line_id: str, who: str, now_ms: int) -> Acknowledged:
    """Somebody has seen an alarm. Raises NotDone where no alarm has that name."""
    _check(alarm, who)
    return Acknowledged(**_told(line_id, who, "", now_ms), alarm=alarm)


def shelve(alarm: str, line_id: str, who: str, reason: str, until_ms: int, now_ms: int) -> Shelved:
    """Put an alarm aside until an instant. Raises NotDone without a reason or a sensible end."""
    _check(alarm, who)
    _check_reason(reason)
    if not now_ms < until_ms <= now_ms + LONGEST_SHELF_MS:
        latest = datetime.fromtimestamp((now_ms + LONGEST_SHELF_MS) / 1000, UTC)
        raise NotDone("the end cannot be", f"Choose one from now to {latest:%d %B}.")
    return Shelved(**_told(line_id, who, reason, now_ms), alarm=alarm, until_ms=until_ms)


def unshelve(alarm: str, line_id: str, who: str, now_ms: int) -> Unshelved:
    """Take an alarm back from the shelf. Raises NotDone where no alarm has that name."""
    _check(alarm, who)
    return Unshelved(**_told(line_id, who, "", now_ms), alarm=alarm)


def out_of_service(alarm: str, line_id: str, who: str, reason: str, now_ms: int) -> OutOfService:
    """Take an alarm out of service until further notice. Raises NotDone without a reason."""
    _check(alarm, who)
    _check_reason(reason)
    return OutOfService(**_told(line_id, who, reason, now_ms), alarm=alarm)


def in_service(alarm: str, line_id: str, who: str, now_ms: int) -> InService:
    """Put an alarm back into service. Raises NotDone where no alarm has that name."""
    _check(alarm, who)
    return InService(**_told(line_id, who, "", now_ms), alarm=alarm)


def work_on_line(line_id: str, who: str, note: str, until_ms: int, now_ms: int) -> Commissioning:
    """Announce work on a line from now on. Raises NotDone for an end that cannot be."""
    if not now_ms < until_ms <= now_ms + LONGEST_WORK_MS:
        raise NotDone("the end cannot be", "Choose one within the next seven days.")
    return Commissioning(**_told(line_id, who, note, now_ms), until_ms=until_ms)


def _told(line_id: str, who: str, note: str, now_ms: int) -> dict[str, Any]:
    return {
        "at_ms": now_ms,
        "known_at_ms": now_ms,
        "line_id": line_id,
        "event_id": f"act-{uuid.uuid4().hex}",
        "who": who,
        "note": note,
    }


def _check(alarm: str, who: str) -> None:
    if alarm not in {rule.name for rule in rules()}:
        raise NotDone(f"no alarm is called {alarm!r}", "Read the page again.")
    if not who.strip():
        raise NotDone("nobody is named", "Sign in, so that the journal knows who did it.")


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise NotDone("no reason is given", "Say why, for whoever comes next.")
