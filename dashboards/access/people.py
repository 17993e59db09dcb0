"""The people who may change something: a file beside the site's record, closed to others."""

from __future__ import annotations

import unicodedata
from pathlib import Path
from typing import Protocol

import msgspec

from analytics.errors import LastLitreError
from dashboards.access.closed_file import read_closed, write_closed
from dashboards.access.passwords import NOBODY, Key, check_new, fits, key_of
from firmware_bridge.config import Site

LONGEST_NAME = 40
MOST_PEOPLE = 200
VERSION = 1


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """One person: the name that stands in the logbook, and the key of the password."""

    name: str
    key: Key


class Known(Protocol):
    """Whoever knows the people. Each may wait for a disk; raises LastLitreError where it fails."""

    @property
    def sessions_path(self) -> Path:
        """Where their sessions are kept."""
        ...

    def anybody(self) -> bool:
        """Whether somebody can sign in at all."""
        ...

    def named(self, name: str) -> Person | None:
        """The person of this name; capitals do not matter."""
        ...

    def who(self, name: str, password: str) -> Person | None:
        """The person, if name and password belong together."""
        ...


class _Listed(msgspec.Struct, frozen=True, kw_only=True):
    version: int
    people: tuple[Person, ...]


class People:
    """The file of people. It is read anew when it changed, so a new password holds at once."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._seen: tuple[int, int, int] | None = None
        self._people: tuple[Person, ...] = ()

    @property
    def sessions_path(self) -> Path:
        """The file beside it."""
        return self.path.with_suffix(".sessions")

    def anybody(self) -> bool:
        """Whether somebody has a password; raises LastLitreError."""
        return bool(self.all())

    def all(self) -> tuple[Person, ...]:
        """Everybody, by name; raises LastLitreError where the file cannot be used."""
        seen = self._state()
        if seen is None:
            self._people = ()
        elif seen != self._seen:
            self._people = _read(self.path)
        self._seen = seen
        return self._people

    def named(self, name: str) -> Person | None:
        """The person of this name; capitals do not matter."""
        wanted = _same(name)
        return next((p for p in self.all() if _same(p.name) == wanted), None)

    def who(self, name: str, password: str) -> Person | None:
        """The person, if name and password belong together. Takes 16 MiB and a while."""
        person = self.named(name)
        right = fits(password, person.key if person else NOBODY)
        return person if right else None

    def add(self, name: str, password: str) -> Person:
        """A new person; raises LastLitreError for a name or password that cannot be."""
        _check_name(name)
        if self.named(name) is not None:
            raise LastLitreError(f"{name} is there already.", "Give a new password by: password")
        if len(self.all()) >= MOST_PEOPLE:
            raise LastLitreError(f"There are {MOST_PEOPLE} people already.", "Remove some first.")
        return self._put(name, password)

    def change(self, name: str, password: str) -> Person:
        """A new password, which signs the person out everywhere."""
        return self._put(self._there(name).name, password)

    def remove(self, name: str) -> Person:
        """Take a person off the list; what they wrote in the logbook stays."""
        gone = self._there(name)
        self._write(tuple(p for p in self.all() if p != gone))
        return gone

    def _put(self, name: str, password: str) -> Person:
        check_new(password, name)
        person = Person(name=name, key=key_of(password))
        others = tuple(p for p in self.all() if _same(p.name) != _same(name))
        self._write(tuple(sorted((*others, person), key=lambda p: _same(p.name))))
        return person

    def _there(self, name: str) -> Person:
        person = self.named(name)
        if person is None:
            names = ", ".join(p.name for p in self.all()) or "nobody"
            raise LastLitreError(f"There is nobody called {name}.", f"There is: {names}.")
        return person

    def _write(self, people: tuple[Person, ...]) -> None:
        body = msgspec.json.encode(_Listed(version=VERSION, people=people))
        write_closed(self.path, msgspec.json.format(body))
        self._seen = None

    def _state(self) -> tuple[int, int, int] | None:
        try:
            found = self.path.stat()
        except FileNotFoundError:
            return None
        except OSError as exc:
            raise LastLitreError(f"{self.path}: {exc.strerror}", "Check its folder.") from exc
        return found.st_mtime_ns, found.st_ino, found.st_mode


def people_of(site: Site) -> People:
    """The people of a site: in the file that `[page] people` names, or beside its record."""
    named = site.wiring.page.people
    return People(Path(named) if named else Path(site.wiring.store_path).with_suffix(".people"))


def _read(path: Path) -> tuple[Person, ...]:
    data = read_closed(path)
    if data is None:
        return ()
    try:
        listed = msgspec.json.decode(data, type=_Listed)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as exc:
        raise LastLitreError(
            f"{path} is no file of people", "Put a backup in its place, or move it away and begin."
        ) from exc
    if listed.version != VERSION:
        raise LastLitreError(f"{path} was written by another version", "Install that one again.")
    return listed.people


def _check_name(name: str) -> None:
    sound = name.isprintable() and name == name.strip() and 0 < len(name) <= LONGEST_NAME
    if not sound:
        raise LastLitreError(
            "A name has 1 to 40 characters, without spaces at its ends.", 'Such as "Ada".'
        )


def _same(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold()
