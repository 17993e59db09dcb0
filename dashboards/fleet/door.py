"""The door of the fleet's pages: people as the records know them, each with a role and a sight."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import msgspec
from starlette.concurrency import run_in_threadpool

from dashboards.access.access import Access, Visit, form_token
from dashboards.access.passwords import NOBODY, Key, fits
from dashboards.access.people import Person
from dashboards.access.rules import Caller, Rules
from dashboards.fleet.roles import CUSTOMER
from firmware_bridge.fleet.people.acts import folded
from firmware_bridge.fleet.people.kept import kept
from firmware_bridge.fleet.records import people_rows
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.sight import ALL, Sight

LONGEST = 200


class FleetVisit(Visit, frozen=True, kw_only=True):
    """One request's standing: beside who it is, with which role, and whose sites are seen."""

    person_no: int | None = None
    name: str = ""
    role: str = ""
    customer_no: int | None = None
    time_zone: str = "UTC"

    @property
    def called(self) -> str:
        """The person's name."""
        return self.name or self.who

    @property
    def sight(self) -> Sight:
        """What this person may see; nobody sees nothing."""
        if self.role == CUSTOMER:
            return Sight(customer_no=self.customer_no)
        return ALL if self.role else Sight()


class FleetPeople:
    """The people in the records, by login."""

    def __init__(self, records: Records, sessions_path: Path) -> None:
        self._records = records
        self._sessions_path = sessions_path

    @property
    def sessions_path(self) -> Path:
        """Where their sessions are kept."""
        return self._sessions_path

    def anybody(self) -> bool:
        """Whether anybody was let in so far; raises StoreError."""
        with self._records.read() as connection:
            return people_rows.anybody(connection)

    def named(self, name: str) -> Person | None:
        """The person of this login who may sign in and has a password; raises StoreError."""
        found = self.row(name)
        key = key_of(found)
        return None if found is None or key is None else Person(name=found.login, key=key)

    def who(self, name: str, password: str) -> Person | None:
        """The person, if login and password belong together. Takes 16 MiB and a while."""
        person = self.named(name)
        right = fits(password, person.key if person else NOBODY)
        return person if right else None

    def row(self, login: str) -> people_rows.Person | None:
        """The row of somebody who may sign in; raises StoreError."""
        with self._records.read() as connection:
            found = people_rows.by_login(connection, folded(login[:LONGEST]))
        return found if found is not None and found.may_sign_in else None


class FleetAccess(Access):
    """What the gate asks. Nothing is seen without signing in, from this machine neither."""

    open_to_all = ("/sign-in", "/invited", "/static/")
    nobody_key = "fleet.nobody"
    by_name = True

    def __init__(
        self,
        people: FleetPeople,
        rules: Rules | None = None,
        *,
        wall_s: Callable[[], float] = time.time,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(rules, people, wall_s=wall_s, clock=clock)
        self._rows = people
        self._begun = False

    @property
    def anybody(self) -> bool:
        """Whether anybody was ever let in; once somebody was, that does not change."""
        self._begun = self._begun or super().anybody
        return self._begun

    async def visit(self, token: str, caller: Caller) -> FleetVisit:
        """How a request stands that carries this token; the records are asked each time, so that
        another role, and the end of one, hold at once."""
        return await run_in_threadpool(self._visit, token, caller)

    def may_look(self, who: str, caller: Caller) -> bool:
        """Whoever is signed in; what they may look at is decided by their role."""
        return bool(who)

    def _visit(self, token: str, caller: Caller) -> FleetVisit:
        closed = self.closed_to(caller)
        row = self._rows.row(who) if (who := self.who(token)) else None
        if row is None:
            return FleetVisit(closed=closed)
        return FleetVisit(
            who=row.login,
            form=form_token(token),
            closed=closed,
            person_no=row.person_no,
            name=row.name,
            role=row.role,
            customer_no=row.customer_no,
            time_zone=row.time_zone,
        )


def key_of(row: people_rows.Person | None) -> Key | None:
    """The key of a person's password, where one was chosen."""
    text = kept(row.password).key if row is not None else ""
    return msgspec.json.decode(text, type=Key) if text else None
