"""Secrets: named in the site file, held in the environment or in a file only its owner can read."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path

from analytics.errors import ConfigError
from firmware_bridge.config.fault import HIDDEN
from firmware_bridge.config.wiring import SinkOptions

LARGEST = 10_000


class Secret:
    """A secret that does not show itself: only `reveal()` gives it."""

    __slots__ = ("_value",)

    def __init__(self, value: str) -> None:
        self._value = value

    def reveal(self) -> str:
        """The secret itself, for the one call that needs it."""
        return self._value

    def __repr__(self) -> str:
        return HIDDEN

    __str__ = __repr__


def secret_of(
    options: SinkOptions, name: str, environment: Mapping[str, str] = os.environ
) -> Secret | None:
    """What `<name>_env` or `<name>_file` of a sink's options leads to; None where neither stands.

    Raises ConfigError where the variable is not set, or the file is open to others.
    """
    variable = getattr(options, f"{name}_env", None)
    if variable is not None:
        return _of_environment(str(variable), f"{name}_env", environment)
    file = getattr(options, f"{name}_file", None)
    return _of_file(Path(file), f"{name}_file") if file is not None else None


def _of_environment(variable: str, key: str, environment: Mapping[str, str]) -> Secret:
    value = environment.get(variable, "")
    if not value:
        problem = f"{key}: the environment variable {variable} is not set"
        raise ConfigError([problem], f"Set {variable} where the daemon starts.")
    return Secret(value)


def _of_file(path: Path, key: str) -> Secret:
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            data = file.read(LARGEST)
    except OSError as exc:
        problem = f"{key}: {path} cannot be read ({exc.strerror})"
        raise ConfigError([problem], "Name a file that the daemon's user owns.") from exc
    if mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise ConfigError([f"{key}: others can open {path}"], f"Close it: chmod 600 {path}")
    try:
        value = data.decode("utf-8").strip()
    except UnicodeDecodeError as exc:
        raise ConfigError([f"{key}: {path} is not text"], "Write the secret on one line.") from exc
    if not value or not value.isprintable():
        raise ConfigError([f"{key}: {path} holds no single line"], "Write the secret on one line.")
    return Secret(value)
