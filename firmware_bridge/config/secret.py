"""Options of a site file with the secrets they name put in; no secret stands in the file itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from firmware_bridge.secrets import Secret, secret

T = TypeVar("T", bound=msgspec.Struct)


def settled(
    options: msgspec.Struct, wanted: type[T], environment: Mapping[str, str] | None = None
) -> T:
    """What a sink or channel works with: the site file's options with the secrets they name put in.

    A field `token` is filled from `token_env` or `token_file`, a field `port` from `port_used`
    where there is one, every other from its namesake; what is not stated keeps its default.
    Raises ConfigError where a secret cannot be had.
    """
    values: dict[str, Any] = {}
    for info in msgspec.structs.fields(wanted):
        found = secret_of(options, info.name, environment)
        stated = getattr(options, info.name, None)
        value = found if found is not None else getattr(options, f"{info.name}_used", stated)
        if value is not None:
            values[info.name] = value
    return wanted(**values)


def secret_of(
    options: msgspec.Struct, name: str, environment: Mapping[str, str] | None = None
) -> Secret | None:
    """What `<name>_env` or `<name>_file` of these options leads to; None where neither stands.

    Raises ConfigError where the variable is not set, or the file is open to others.
    """
    if getattr(options, name, None) is not None:  # stated in the open
        return None
    for way in ("env", "file"):
        named = getattr(options, f"{name}_{way}", None)
        if named is not None:
            return secret(f"{way}:{named}", f"{name}_{way}", environment)
    return None
