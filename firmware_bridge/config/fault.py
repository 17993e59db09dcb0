"""A fault of a site file: where it is, what is wrong, what is allowed, how to mend it."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import re
from collections.abc import Iterable

import msgspec

HIDDEN = "(hidden)"
SECRET_KEY = re.compile(
    r"passw|passphrase|passcode|(?:^|_)pass(?:$|_)|pwd|token|secret|credential|api_?key|private|auth",
    re.IGNORECASE,
)
ENTRY = re.compile(
    r"(?<![\w-])(?P<key>[\w-]++)(?P<is>[\"']?\s*=\s*)"
    r"(?:\"{3}.*?\"{3}|'{3}.*?'{3}|\"(?:\\.|[^\"\\])*\"|'[^']*'|[^\s,}\]]+)",
    re.DOTALL,
)
USER_IN_ADDRESS = re.compile(r"(?<=://)[^/@\s\"']+@")
LONGEST_VALUE = 60


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to mend. `value` is as it stands in the file, or hidden; empty where none stands.

    `str(fault)` is the sentence for a person.
    """

    file: str
    problem: str
    table: str = ""
    key: str = ""
    value: str = ""
    allowed: str = ""
    mend: str = ""

    def __str__(self) -> str:
        place = f"{self.file}: " + (f"{self.table} " if self.table else "")
        entry = " = ".join(part for part in (self.key, self.value) if part)
        parts = [f"{place}{entry}".rstrip(": ") + f": {self.problem}."]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}.")
        return " ".join([*parts, self.mend] if self.mend else parts)


class Refused(Exception):  # noqa: N818 - a reader refuses a value; the table's reader makes it a fault
    """Raised by the reader of one value: what is wrong with it, what is allowed, the mend."""

    def __init__(self, problem: str, allowed: str = "", mend: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.allowed = allowed
        self.mend = mend


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word nearest in spelling as a question, or nothing."""
    lowered = {k.lower().replace("-", "_"): k for k in known}
    wanted = word.lower().replace("-", "_")
    cutoff = 0.5 if len(wanted) < 6 else 0.6  # in a short word one slip weighs more
    close = difflib.get_close_matches(wanted, list(lowered), n=1, cutoff=cutoff)
    return f'Did you mean "{lowered[close[0]]}"?' if close else ""


def shown(key: str, value: object) -> str:
    """A value as it stands in the file, shortened; a secret is hidden."""
    if SECRET_KEY.search(key):
        return HIDDEN
    return redact(_cut(_as_toml(value)))


def redact(text: str) -> str:
    """The text without what must not be seen: a user and password in an address, values of keys
    that hold or name secrets."""
    return ENTRY.sub(_hide, USER_IN_ADDRESS.sub(HIDDEN + "@", text))


def _hide(entry: re.Match[str]) -> str:
    secret = SECRET_KEY.search(entry["key"])
    return f"{entry['key']}{entry['is']}{HIDDEN}" if secret else entry[0]


def _as_toml(value: object) -> str:
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {shown(str(k), v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_as_toml(v) for v in value[:20]) + "]"
    if isinstance(value, float):
        return repr(value)
    try:
        return json.dumps(value, ensure_ascii=False)
    except ValueError:  # thousands of digits
        return "(a very long number)"


def _cut(text: str) -> str:
    plain = "".join(c if c.isprintable() else "?" for c in text)
    return plain if len(plain) <= LONGEST_VALUE else plain[:LONGEST_VALUE] + "..."
