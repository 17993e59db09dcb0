"""One request to the fleet's pages, without the web, and what can be answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

import msgspec

from analytics.samples import HOUR_MS
from dashboards.fleet.door import FleetVisit
from dashboards.fleet.kept import Kept
from dashboards.page import Given
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.people.acts import Doer
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.sight import Connection, Sight
from firmware_bridge.fleet.records.site_rows import SiteRow


class House(msgspec.Struct, frozen=True, kw_only=True):
    """The service company: its name, its clock, the weekdays (Monday is 0) and the minute of the
    day at which a round can start, how long a site may say nothing. `address` is what links sent
    elsewhere begin with."""

    company: str
    time_zone: str = "UTC"
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    start_minute: int = 8 * 60
    silent_ms: int = 26 * HOUR_MS
    address: str = ""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """Who asks what. `connection` is one state of the records for a page, one transaction for an
    act. `site` is the site the address names, seen by whoever asks. `faults` are what was wrong
    with the form that is shown again, `typed` what stood in it. `ready` is what was made ready
    before the transaction of an act began. `enrolling` is None in a fleet that gives no logins."""

    records: Records
    connection: Connection
    kept: Kept
    house: House
    visit: FleetVisit
    reader: Reader
    now_ms: int
    when: When
    query: Mapping[str, str] = {}
    fields: Mapping[str, str] = {}
    numbers: Mapping[str, int] = {}
    site: SiteRow | None = None
    faults: tuple[tuple[str, str], ...] = ()
    typed: Mapping[str, str] = {}
    ready: Any = None
    enrolling: Enrolling | None = None

    @property
    def sight(self) -> Sight:
        """Whose sites are seen."""
        return self.visit.sight

    @property
    def doer(self) -> Doer:
        """Who does it, for the audit."""
        return Doer(person_no=self.visit.person_no, at_ms=self.now_ms)

    @property
    def here(self) -> SiteRow:
        """The site of an address that names one."""
        assert self.site is not None  # the console has looked it up
        return self.site

    def say(self, key: str, **values: str | int) -> str:
        """A text for this reader."""
        return self.reader.say(key, **values)

    def opening(self, key: str, **values: str | int) -> str:
        """A text that opens a page: it begins with a capital, whatever its first blank is."""
        text = self.reader.say(key, **values)
        return text[:1].upper() + text[1:]


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A page: its template, what it shows, and what its frame asks for beside the usual."""

    template: str
    view: msgspec.Struct
    status: int = 200
    more: dict[str, Any] = {}


class Moved(msgspec.Struct, frozen=True, kw_only=True):
    """Something was done; the page to go on with."""

    to: str


class Absent(msgspec.Struct, frozen=True, kw_only=True):
    """There is no such thing, or not for whoever asks."""


Answer: TypeAlias = Sheet | Given | Moved | Absent
Answers: TypeAlias = dict[tuple[str, str], Callable[[Asked], Answer]]
"""By method and address as the table of ways has it."""
Prepared: TypeAlias = dict[str, Callable[[Asked], Any]]
"""By the address of an act: what takes its time (a name looked up, a key made) and is done before
the records are held. Raises ActRefused."""
