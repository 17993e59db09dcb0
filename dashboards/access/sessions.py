"""Who is signed in: a random token in the browser, its digest here.

    browser: token (256 bits)        file, closed to others: SHA-256 of it -> name, since, mark

The mark belongs to the password: with a new one every session of the person is over. The file lets
a session live through a restart; whoever reads it cannot sign in with it.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections.abc import Callable
from pathlib import Path

import msgspec

from analytics.errors import LastLitreError
from dashboards.access.closed_file import read_closed, write_closed
from dashboards.access.people import Known, Person

DAY_S = 86_400.0
IDLE_S = 7 * DAY_S
LONGEST_S = 30 * DAY_S
EACH = 20
"""Sessions of one person at most; the oldest ends when another begins."""
SAVE_S = 3600.0


class Session(msgspec.Struct, frozen=True, kw_only=True):
    """One browser's sign-in, in seconds of wall time."""

    name: str
    mark: str
    begun_s: float
    seen_s: float


class Sessions:
    """Everybody who is signed in. `now_s` is wall time, so that a restart does not matter.

    All methods may be called from any thread.
    """

    def __init__(self, path: Path, people: Known, now_s: Callable[[], float]) -> None:
        self._path = path
        self._people = people
        self._now_s = now_s
        self._held = _read(path)
        self._saved_s = now_s()
        self._turn = threading.RLock()

    def begin(self, person: Person) -> str:
        """Sign a person in; the token is for the browser alone. Writes the file."""
        token, now = secrets.token_urlsafe(32), self._now_s()
        with self._turn:
            mine = sorted((s.begun_s, k) for k, s in self._held.items() if s.name == person.name)
            for _, key in mine[: max(len(mine) - EACH + 1, 0)]:
                del self._held[key]
            self._held[_digest(token)] = Session(
                name=person.name, mark=person.key.mark, begun_s=now, seen_s=now
            )
            self.save()
        return token

    def who(self, token: str) -> str:
        """The name of whoever this token belongs to, or nothing; keeps the session awake."""
        key = _digest(token)
        with self._turn:
            session = self._held.get(key)
            if session is None or not self._good(session):
                return ""
            self._held[key] = msgspec.structs.replace(session, seen_s=self._now_s())
            return session.name

    def holds(self, token: str) -> bool:
        """Whether the token still stands for somebody; does not keep it awake."""
        with self._turn:
            session = self._held.get(_digest(token))
            return session is not None and self._good(session)

    def end(self, token: str, *, everywhere: bool = False) -> None:
        """Sign this browser out, or all browsers of its person. Writes the file."""
        with self._turn:
            session = self._held.pop(_digest(token), None)
            if session is not None and everywhere:
                self._held = {k: s for k, s in self._held.items() if s.name != session.name}
            self.save()

    @property
    def due(self) -> bool:
        """Whether the file is old enough to be written again."""
        return not 0 <= self._now_s() - self._saved_s < SAVE_S

    def save(self) -> None:
        """Write the file; sessions that are over are left out."""
        with self._turn:
            self._held = {key: s for key, s in self._held.items() if self._good(s)}
            self._saved_s = self._now_s()
            write_closed(self._path, msgspec.json.encode(self._held))

    def _good(self, session: Session) -> bool:
        now = self._now_s()
        person = self._people.named(session.name)
        awake = now - session.seen_s < IDLE_S and now - session.begun_s < LONGEST_S
        return awake and person is not None and person.key.mark == session.mark


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _read(path: Path) -> dict[str, Session]:
    """Sessions of before; where the file is damaged everybody signs in again."""
    try:
        data = read_closed(path)
        return {} if data is None else msgspec.json.decode(data, type=dict[str, Session])
    except (LastLitreError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return {}
