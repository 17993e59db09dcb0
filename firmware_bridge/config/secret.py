"""Secrets: named in the site file, held in the environment or in a file only its owner can read."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from analytics.errors import ConfigError
from firmware_bridge.config.wiring import SinkOptions
from firmware_bridge.forward.sink import Secret

T = TypeVar("T", bound=msgspec.Struct)
LARGEST = 10_000


def settled(
    options: SinkOptions, wanted: type[T], environment: Mapping[str, str] = os.environ
) -> T:
    """What a sink works with: the site file's options with the secrets they name put in.

    A field `token` is filled from `token_env` or `token_file`, a field `port` from `port_used`
    where there is one, every other from its namesake; what is not stated keeps its default.
    Raises ConfigError where a secret cannot be had.
    """
    values: dict[str, Any] = {}
    for info in msgspec.structs.fields(wanted):
        secret = secret_of(options, info.name, environment)
        stated = getattr(options, info.name, None)
        value = secret if secret is not None else getattr(options, f"{info.name}_used", stated)
        if value is not None:
            values[info.name] = value
    return wanted(**values)


def secret_of(
    options: SinkOptions, name: str, environment: Mapping[str, str] = os.environ
) -> Secret | None:
    """What `<name>_env` or `<name>_file` of a sink's options leads to; None where neither stands.

    Raises ConfigError where the variable is not set, or the file is open to others.
    """
    if hasattr(options, name):  # stated in the open
        return None
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
