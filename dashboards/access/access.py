"""The people, their sessions, the rules and the patience of one site's door, put together."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
from starlette.concurrency import run_in_threadpool

from dashboards.access.checking import Checking
from dashboards.access.patience import Patience
from dashboards.access.people import Known, Person, people_of
from dashboards.access.rules import Caller, Rules, rules_of
from dashboards.access.sessions import Sessions
from firmware_bridge.config import Site


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """One request's standing: who it is (nobody: ""), the token that its forms carry, and, where
    signing in is not possible, the key of the text that says why."""

    who: str = ""
    form: str = ""
    closed: str = ""

    @property
    def called(self) -> str:
        """What the page calls whoever it is."""
        return self.who


class Access:
    """What the gate asks. Without `people` nobody can sign in."""

    open_to_all: tuple[str, ...] = ("/sign-in", "/static/")
    """How the addresses begin that need no sign-in."""
    nobody_key = "access.nobody"
    by_name = False
    """Whether failed tries count against the name, too, wherever they come from."""

    def __init__(
        self,
        rules: Rules | None = None,
        people: Known | None = None,
        *,
        sessions_path: Path | None = None,
        wall_s: Callable[[], float] = time.time,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.rules = rules or Rules()
        self.people = people
        self.patience = Patience(clock)
        self.checking = Checking(people)
        self.sessions: Sessions | None = None
        if people is not None:
            path = sessions_path or people.sessions_path
            self.sessions = Sessions(path, people, wall_s)
            self.patience = Patience(clock, path.with_suffix(".patience"), wall_s)

    @property
    def anybody(self) -> bool:
        """Whether somebody has a password; raises LastLitreError where the file cannot be used."""
        return self.people is not None and self.people.anybody()

    async def visit(self, token: str, caller: Caller) -> Visit:
        """How a request stands that carries this token."""
        who = self.who(token)
        form = form_token(token) if who else ""
        return Visit(who=who, form=form, closed=self.closed_to(caller))

    async def tried(self, sources: tuple[str, ...], name: str, password: str) -> Person | None:
        """The person, if name and password belong together; a wrong try counts against its
        sources, over restarts too."""
        self.patience.trying(*sources)
        await run_in_threadpool(self.patience.keep)
        person = await self.checking.person(name, password)
        if person is not None:
            self.patience.passed(*sources)
            await run_in_threadpool(self.patience.keep)
        return person

    def who(self, token: str) -> str:
        """The name of whoever is signed in by this token, or nothing."""
        return self.sessions.who(token) if self.sessions is not None and token else ""

    def still(self, token: str) -> bool:
        """Whether a sign-in still holds; an open page does not keep it awake."""
        return self.sessions is not None and self.sessions.holds(token)

    def closed_to(self, caller: Caller) -> str:
        """Why this caller cannot sign in, as the key of a text; nothing where it can."""
        if not self.anybody:
            return self.nobody_key
        if caller.secure or caller.local or self.rules.in_clear:
            return ""
        return "access.in-clear"

    def may_look(self, who: str, caller: Caller) -> bool:
        """Whether this caller may see the pages: with nobody's password set only this machine."""
        if not self.anybody:
            return caller.local
        return bool(who) or self.rules.all_may_look


def access_of(site: Site, *, open_to_network: bool) -> Access:
    """The door that a site file describes."""
    page = site.wiring.page
    everyone = page.view == "everyone"
    rules = rules_of(page, open_to_network=open_to_network, all_may_look=everyone)
    return Access(rules, people_of(site))


def form_token(cookie: str) -> str:
    """What a form carries beside the cookie: nobody who cannot read the cookie can write it."""
    return hmac.new(cookie.encode("utf-8", "replace"), b"form", hashlib.sha256).hexdigest()


def new_secret() -> str:
    """A value nobody can guess, for a cookie."""
    return secrets.token_urlsafe(24)


def cookie_name(kind: str, caller: Caller) -> str:
    """The cookie's name; over https a prefix keeps other hosts and plain pages from setting it."""
    return f"__Host-lastlitre-{kind}" if caller.secure else f"lastlitre-{kind}"
