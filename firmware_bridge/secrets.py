"""Secrets: passwords and tokens that stand in the environment or in a file only its owner reads.

    secret("env:LASTLITRE_TOKEN", "token_env")  -> what the variable holds
    secret("file:/etc/lastlitre/token", "...")  -> what the file holds, on its one line

A secret never shows itself in a `repr`, and what was read here is kept out of the log
(`without_secrets`).
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path

from analytics.errors import ConfigError

LARGEST = 10_000
STARS = "***"
SHORTEST_HIDDEN = 4
"""Shorter secrets are not looked for in texts: they would blot out words that are no secret."""

_read: set[str] = set()


class Secret(str):
    """A password or token that does not show itself in logs, faults and reprs."""

    __slots__ = ()

    def __repr__(self) -> str:
        """Stars, or nothing where there is no secret."""
        return f"'{STARS}'" if self else "''"


def secret(named: str, place: str, environment: Mapping[str, str] | None = None) -> Secret:
    """What "env:NAME" or "file:/path" leads to; `place` is the key a person finds it under.

    Raises ConfigError, which never repeats a secret: where the variable is not set, where the file
    cannot be read, is open to others or holds no single line, where `named` is neither.
    """
    way, _, name = named.partition(":")
    if way == "env" and name:
        return _known(
            _of_environment(name, place, os.environ if environment is None else environment)
        )
    if way == "file" and name:
        return _known(_of_file(Path(name), place))
    problem = f"{place}: neither env:NAME nor file:/path"
    raise ConfigError([problem], "A secret stands in a variable or in a file, never here.")


def without_secrets(text: str) -> str:
    """The text with stars where a secret stood that was read in this process."""
    for held in sorted(_read, key=len, reverse=True):
        if held in text:
            text = text.replace(held, STARS)
    return text


def closed_to_others(mode: int) -> bool:
    """Whether a file of this mode can be opened by nobody but its owner."""
    return not mode & (stat.S_IRWXG | stat.S_IRWXO)


def _known(value: str) -> Secret:
    if len(value) >= SHORTEST_HIDDEN:
        _read.add(value)
    return Secret(value)


def _of_environment(variable: str, place: str, environment: Mapping[str, str]) -> str:
    value = environment.get(variable, "")
    if not value:
        problem = f"{place}: the environment variable {variable} is not set"
        raise ConfigError([problem], f"Set {variable} where the daemon starts.")
    return value


def _of_file(path: Path, place: str) -> str:
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            data = file.read(LARGEST)
    except OSError as exc:
        problem = f"{place}: {path} cannot be read ({exc.strerror})"
        raise ConfigError([problem], "Name a file that the daemon's user owns.") from exc
    if not closed_to_others(mode):
        raise ConfigError([f"{place}: others can open {path}"], f"Close it: chmod 600 {path}")
    try:
        value = data.decode("utf-8").strip()
    except UnicodeDecodeError as exc:
        raise ConfigError(
            [f"{place}: {path} is not text"], "Write the secret on one line."
        ) from exc
    if not value or not value.isprintable():
        raise ConfigError(
            [f"{place}: {path} holds no single line"], "Write the secret on one line."
        )
    return value
