"""Readers of single values: from what stands in the file to what the program works with.

A reader takes the value and the place it stands in, and raises `Refused`. `asks` ties a reader, a
description and an example to a field; the table's reader, the fault texts and the commented sample
all come from that one definition.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias
from urllib.parse import urlsplit

import msgspec

from firmware_bridge.config.fault import Refused, shown
from firmware_bridge.config.kinds import Kind


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Where a table stands: the file as named to the person, the table's heading and which one of
    several it is, the folder that paths start from, the site's clock for instants without an
    offset."""

    file: str
    heading: str = ""
    which: str = ""
    folder: Path = Path()
    zone: dt.tzinfo = dt.UTC

    @property
    def table(self) -> str:
        """The table as a person finds it: "[site]", "[[line]] bar", "[line.limits] of bar"."""
        if not self.heading:
            return ""
        if self.which and "." not in self.heading:
            return f"[[{self.heading}]] {self.which}"
        return f"[{self.heading}]" + (f" of {self.which}" if self.which else "")

    def at(self, heading: str, which: str = "") -> Place:
        """Another table of the same file."""
        return msgspec.structs.replace(self, heading=heading, which=which)

    def inside(self, key: str) -> Place:
        """A table within this one."""
        return msgspec.structs.replace(self, heading=f"{self.heading}.{key}")


Reader: TypeAlias = Callable[[object, Place], Any]

EARLIEST = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
LATEST = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)
HOURS = re.compile(r"([01]\d|2[0-4]):([0-5]\d)\s*[-–]\s*([01]\d|2[0-4]):([0-5]\d)")
CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")
ADDRESS = re.compile(r"[A-Za-z0-9._%+'-]{1,64}@[A-Za-z0-9-]{1,63}(\.[A-Za-z0-9-]{1,63}){0,8}")
LONGEST_TEXT = 200
MOST_OF_A_LIST = 50


def asks(
    description: str,
    reader: Reader | None = None,
    *,
    example: str = "",
    live: bool = False,
    words: tuple[str, ...] = (),
) -> msgspec.Meta:
    """What a field asks of a person.

    `example` is TOML for the sample (of the default, where there is one); `live` writes it into
    the sample uncommented. `words` are those a text field takes, where its type does not say.
    """
    extra = {"reader": reader, "example": example, "live": live, "words": words}
    return msgspec.Meta(description=description, extra=extra)


def quantity(kind: Kind, *, low: float | None = None, high: float | None = None) -> Reader:
    """Text with a unit, as a float in the kind's base unit, between two bounds in that unit."""
    least, most = kind.low if low is None else low, kind.high if high is None else high
    allowed = f'text such as "{kind.written[0]}" from {kind.span(least, most)}'

    def read(value: object, place: Place) -> float:
        from firmware_bridge.units import UnitError, parse  # pint loads only where text is read

        if isinstance(value, int | float) and not isinstance(value, bool):
            example = kind.written[0].split(" ", 1)[1]
            mend = f'Write "{shown("", value)} {example}" if that is what you mean.'
            raise Refused("a bare number without a unit", allowed, mend)
        if not isinstance(value, str):
            raise Refused(f"not {kind.name}", allowed)
        try:
            base = parse(value, kind)
        except UnitError as exc:
            raise Refused(exc.problem, allowed, exc.mend) from exc
        if not least <= base <= most:
            raise Refused(f"{kind.name} that cannot be", allowed)
        return base

    return read


def litres_passed(kind: Kind) -> Reader:
    """How many litres a cartridge had behind it: "new" (0), "unknown" (None) or a volume."""
    measured = quantity(kind)

    def read(value: object, place: Place) -> float | None:
        if value in ("new", "unknown"):
            return 0.0 if value == "new" else None
        try:
            return float(measured(value, place))
        except Refused as exc:
            allowed = f'"new", "unknown" or {exc.allowed}'
            raise Refused(exc.problem, allowed, exc.mend) from exc

    return read


def whole(low: int, high: int) -> Reader:
    """A whole number between two bounds."""

    def read(value: object, place: Place) -> int:
        fits = isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
        if not fits or not isinstance(value, int):
            raise Refused("not a whole number in range", f"a whole number from {low} to {high}")
        return value

    return read


def ratio(low: float, high: float) -> Reader:
    """A pure number between two bounds."""

    def read(value: object, place: Place) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Refused("not a number", f"a number from {low:g} to {high:g}")
        if not low <= value <= high:  # false for not-a-number as well
            raise Refused("a number out of range", f"a number from {low:g} to {high:g}")
        return float(value)

    return read


def words(value: object, place: Place) -> str:
    """Some text for people, on one line."""
    if not isinstance(value, str) or not value.strip():
        raise Refused("not a text", "a text in quotes")
    if len(value) > LONGEST_TEXT or not value.isprintable():
        raise Refused("too long or with control characters", f"up to {LONGEST_TEXT} characters")
    return value


def matching(pattern: str, allowed: str) -> Reader:
    """Text of a form given by a regular expression."""
    form = re.compile(pattern)

    def read(value: object, place: Place) -> str:
        if not isinstance(value, str) or not form.fullmatch(value):
            raise Refused("not of the form wanted", allowed)
        return value

    return read


language_code = matching(r"[a-z]{2,3}", 'two letters, as in "en"')
ident = matching(
    r"[a-z0-9][a-z0-9-]{0,62}", "small letters a-z, digits and hyphens, at most 63 of them"
)


def env_name(value: object, place: Place) -> str:
    """The name of an environment variable, never a secret itself."""
    if not isinstance(value, str) or not re.fullmatch(r"[A-Z_][A-Z0-9_]{0,63}", value):
        raise Refused(
            "not the name of an environment variable",
            "a name such as LASTLITRE_TOKEN: capital letters, digits, underscores",
            "A secret itself never stands in the site file.",
        )
    return value


def file_path(value: object, place: Place) -> str:
    """A path; a relative one starts from the site file's folder."""
    if not isinstance(value, str) or not value or "\0" in value or len(value) > 1000:
        raise Refused("not a path", "a path in quotes")
    return str(place.folder / value)


def web_address(value: object, place: Place) -> str:
    """An http or https address without a user or a password in it."""
    allowed = 'an address such as "http://127.0.0.1:8428"'
    if not isinstance(value, str) or len(value) > 500 or re.search(r"\s", value):
        raise Refused("not a web address", allowed)
    try:
        parts = urlsplit(value)
        usable = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        usable = False
    if not usable:
        raise Refused("not a web address", allowed)
    if parts.username is not None or parts.password is not None:
        mend = "Take the user and password out and name an environment variable by token_env."
        raise Refused("a secret in an address", allowed, mend)
    return value


def host(value: object, place: Place) -> str:
    """A host name or an address, without scheme, port or path."""
    if not isinstance(value, str) or not re.fullmatch(r"[A-Za-z0-9._:%-]{1,253}", value):
        raise Refused("not a host name", 'a name or address alone, such as "broker.lan"')
    if re.fullmatch(r"[^:]+:\d+", value):
        mend = f'Write host = "{value.split(":")[0]}" and port = {value.split(":")[1]}.'
        raise Refused(
            "a port in the host name", 'a name or address alone, such as "broker.lan"', mend
        )
    return value


def several(reader: Reader, allowed: str) -> Reader:
    """A list, each part read by `reader`."""

    def read(value: object, place: Place) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) > MOST_OF_A_LIST:
            raise Refused("not a list", allowed)
        return tuple(reader(part, place) for part in value)

    return read


def ip_address(value: object, place: Place) -> str:
    """An address in numbers."""
    try:
        return str(ipaddress.ip_address(value if isinstance(value, str) else ""))
    except ValueError as exc:
        raise Refused("not an address in numbers", 'such as "192.168.1.5"') from exc


def exactly(sentence: str) -> Reader:
    """One sentence, word for word: what is risky is said, not switched on by a word."""

    def read(value: object, place: Place) -> str:
        if value != sentence:
            raise Refused("not the sentence", f'"{sentence}"')
        return sentence

    return read


def opening_hours(value: object, place: Place) -> tuple[int, int]:
    """ "07:00-18:30" as minutes of the day; "closed" is (0, 0); past midnight runs over 1440."""
    allowed = '"07:00-18:30", "18:00-02:00", "00:00-24:00" or "closed"'
    if value == "closed":
        return (0, 0)
    found = HOURS.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise Refused("not opening hours", allowed)
    opens, closes = (int(found[i]) * 60 + int(found[i + 1]) for i in (1, 3))
    if max(opens, closes) > 1440 or opens == closes or opens == 1440:
        raise Refused("hours that cannot be", allowed, 'Write "closed" for a day off.')
    return (opens, closes if closes > opens else closes + 1440)


def quiet_hours(value: object, place: Place) -> tuple[int, int]:
    """ "22:00-06:30" as minutes of the day, "none" as (0, 0)."""
    if value == "none":
        return (0, 0)
    try:
        return opening_hours(value, place)
    except Refused as exc:
        raise Refused("not hours", '"22:00-06:30" or "none"') from exc


def time_of_day(value: object, place: Place) -> int:
    """ "07:30" as minutes of the day."""
    found = CLOCK.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise Refused("not a time of day", '"07:30"')
    return int(found[1]) * 60 + int(found[2])


def email_address(value: object, place: Place) -> str:
    """One address without a name before it."""
    if not isinstance(value, str) or not ADDRESS.fullmatch(value):
        raise Refused("not an e-mail address", 'an address such as "owner@example.org"')
    return value


def email_addresses(value: object, place: Place) -> tuple[str, ...]:
    """A list of addresses, at least one."""
    if not isinstance(value, list) or not value:
        raise Refused("not a list of e-mail addresses", 'a list such as ["owner@example.org"]')
    return tuple(email_address(each, place) for each in value)


def instant(value: object, place: Place) -> int:
    """A date and time as milliseconds of UTC; without an offset it is the site's own clock."""
    allowed = "a date and time such as 2024-08-16T08:30:00Z or 2024-08-16T10:30:00 (site's clock)"
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        raise Refused("a date without a time", allowed, f"Write {value.isoformat()}T12:00:00.")
    if not isinstance(value, dt.datetime):
        mend = "Take the quotes away." if isinstance(value, str) else ""
        raise Refused("not a date and time", allowed, mend)
    when = value if value.tzinfo is not None else value.replace(tzinfo=place.zone)
    if not EARLIEST <= when <= LATEST:
        raise Refused("an instant that cannot be", "a year from 2000 to 2099")
    return round((when - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) / dt.timedelta(milliseconds=1))


def linear_unit(kind: Kind) -> Reader:
    """A unit that plain numbers of a meter are in, as (base units to one, base units at 0)."""
    usual = kind.written[0].split(" ", 1)[1]
    allowed = f'a unit alone, such as "{usual}"'

    def read(value: object, place: Place) -> tuple[float, float]:
        from firmware_bridge.units import UnitError, parse

        if not isinstance(value, str) or not value.strip() or value.strip()[0].isdigit():
            raise Refused("not a unit", allowed)
        try:
            at_0, at_1 = (parse(f"{number} {value}", kind) for number in (0, 1))
        except UnitError as exc:
            raise Refused(exc.problem, allowed, exc.mend) from exc
        return at_1 - at_0, at_0

    return read
