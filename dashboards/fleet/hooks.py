"""The page for addresses that are told of alarms."""

from __future__ import annotations

import msgspec

from analytics.errors import ActRefused
from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.roles import OWNER
from firmware_bridge.fleet.hooks import begin, mark_of
from firmware_bridge.fleet.reach import NotPublic, Reach
from firmware_bridge.fleet.records import hook_rows, people_rows
from firmware_bridge.fleet.records.hook_rows import Hook

MOST = 20
"""Addresses of one customer, and as many of the house."""


class ShownHook(msgspec.Struct, frozen=True, kw_only=True):
    """One address."""

    number: int
    url: str
    whose: str
    since: str
    trouble: str


class HooksView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page; `secret` is told once, to whoever entered the address."""

    hooks: tuple[ShownHook, ...]
    customers: tuple[str, ...]
    typed: dict[str, str]
    secret: str


def page(asked: Asked) -> Answer:
    """The addresses."""
    return _page(asked)


def checked(asked: Asked) -> str:
    """The address, where it may be posted to. Raises ActRefused."""
    url = asked.fields.get("url", "").strip()
    try:
        Reach().check(url)
    except NotPublic as exc:
        raise ActRefused([("url", "not-public")]) from exc
    except (OSError, UnicodeError) as exc:
        raise ActRefused([("url", "no-such-address")]) from exc
    return url


def add(asked: Asked) -> Answer:
    """A new address, held against what may be reached; the secret is shown now and never again."""
    url: str = asked.ready
    customer_no = _whose(asked)
    known = hook_rows.all_hooks(asked.connection, asked.sight)
    if sum(hook.customer_no == customer_no for hook in known) >= MOST:
        raise ActRefused([("url", "enough-hooks")])
    number = hook_rows.add(asked.connection, url, customer_no, asked.now_ms)
    secret = begin(asked.records, asked.connection, number)
    asked.doer.write(asked.connection, "hook.added", f"hook {number}", customer_no=customer_no)
    return _page(asked, secret)


def end(asked: Asked) -> Answer:
    """The address is told nothing more."""
    number = asked.numbers["hook_no"]
    if not hook_rows.end(asked.connection, asked.sight, number, asked.now_ms):
        return Absent()
    asked.doer.write(asked.connection, "hook.ended", f"hook {number}")
    return Moved(to="/hooks")


def _whose(asked: Asked) -> int | None:
    """Whose sites it is told of: a customer's own; the owner chooses."""
    if asked.visit.role != OWNER:
        return asked.visit.customer_no
    name = asked.fields.get("customer", "").strip()
    if not name:
        return None
    found = [c for c in people_rows.all_customers(asked.connection) if c.name == name]
    if not found:
        raise ActRefused([("customer", "no-such-customer")])
    return found[0].customer_no


def _page(asked: Asked, secret: str = "") -> Answer:
    head = asked.visit.role == OWNER
    found = hook_rows.all_hooks(asked.connection, asked.sight)
    customers = people_rows.all_customers(asked.connection) if head else []
    view = HooksView(
        hooks=tuple(_shown(asked, hook) for hook in found),
        customers=tuple(c.name for c in customers),
        typed={n: asked.typed.get(n, "") for n in ("url", "customer")},
        secret=secret,
    )
    return Sheet(template="fleet/hooks.html", view=view)


def _shown(asked: Asked, hook: Hook) -> ShownHook:
    when = asked.when
    mark = mark_of(asked.records, asked.connection, hook.hook_no)
    trouble = ""
    if mark is not None and mark.tries:
        next_try = when.moment(mark.next_ms)
        trouble = asked.say("hooks.trouble", what=mark.trouble, n=mark.tries, moment=next_try)
    return ShownHook(
        number=hook.hook_no,
        url=hook.url,
        whose=hook.customer or asked.say("hooks.all-sites"),
        since=asked.say("hooks.since", day=when.short(when.day(hook.made_ms))),
        trouble=trouble,
    )


ANSWERS: Answers = {
    ("GET", "/hooks"): page,
    ("POST", "/hooks"): add,
    ("POST", "/hooks/{hook_no:int}/end"): end,
}
AGAIN = {"/hooks": "/hooks"}
PREPARED = {"/hooks": checked}
