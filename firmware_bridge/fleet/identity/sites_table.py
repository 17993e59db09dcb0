"""The fleet file's table about joining: what sites are told, and who makes their logins."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import msgspec

from analytics.errors import ConfigError
from firmware_bridge.config import kinds
from firmware_bridge.config.readers import (
    asks,
    env_name,
    file_path,
    host,
    matching,
    quantity,
    whole,
)
from firmware_bridge.config.secret import settled
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.secrets import Secret

LARGEST_CA = 100_000


class SitesTable(msgspec.Struct, frozen=True, kw_only=True):
    """How sites join by a code (`lastlitre fleet enrol`): where they find the broker, and the login
    by which theirs are made there (`lastlitre fleet broker` writes both)."""

    host: Annotated[
        str,
        asks("The broker's name as sites reach it.", host, example='"broker.example"', live=True),
    ]
    port: Annotated[
        int | None,
        asks("Its port; left out, 8883, or 1883 without tls.", whole(1, 65535), example="8883"),
    ] = None
    tls: Annotated[
        bool,
        asks("Whether the line is encrypted; only a broker on the same machine does without.",
             example="true"),
    ] = True  # fmt: skip
    ca_file: Annotated[
        str | None,
        asks(
            "Authority (PEM) that vouches for it, where sites would not know it; it is given to"
            " them.",
            file_path,
            example='"fleet-ca.pem"',
        ),
    ] = None
    user: Annotated[
        str,
        asks(
            "The login that makes and revokes the sites'.",
            matching(r"[^\s\x00-\x1f\x7f]{1,100}", "a name without spaces"),
            example='"keeper"',
        ),
    ] = "keeper"
    password_env: Annotated[
        str | None,
        asks(
            "Environment variable with its password.",
            env_name,
            example='"LASTLITRE_KEEPER_PASSWORD"',
        ),
    ] = None
    password_file: Annotated[
        str | None,
        asks(
            "Or a file with the password that only its owner can read (0600).",
            file_path,
            example='"broker/keeper.secret"',
        ),
    ] = None
    codes_s: Annotated[
        float,
        asks(
            "How long a code works.",
            quantity(kinds.SPAN_S, low=60.0, high=30 * 86_400.0),
            example='"24 h"',
        ),
    ] = msgspec.field(name="codes_last", default=86_400.0)

    @property
    def port_used(self) -> int:
        """The port stated, or the usual one."""
        return self.port if self.port is not None else (8883 if self.tls else 1883)


class Joining(msgspec.Struct, frozen=True, kw_only=True):
    """The table with its secrets and files read: what sites are told, and the keeper's way in."""

    host: str
    port: int
    tls: bool
    ca: str
    keeper: MqttOptions
    codes_ms: int


class _Login(msgspec.Struct, frozen=True):
    user: str = ""
    password: Secret = Secret("")


def joining_of(
    table: SitesTable, broker: MqttOptions, environment: Mapping[str, str] | None = None
) -> Joining:
    """What the table comes to; the keeper reaches the broker as the workers do.

    Raises ConfigError where a secret or the authority cannot be read.
    """
    login = settled(table, _Login, environment)
    keeper = msgspec.structs.replace(broker, user=login.user, password=login.password, client_id="")
    return Joining(
        host=table.host,
        port=table.port_used,
        tls=table.tls,
        ca=_authority(table.ca_file),
        keeper=keeper,
        codes_ms=round(table.codes_s * 1000),
    )


def _authority(named: str | None) -> str:
    if named is None:
        return ""
    try:
        text = Path(named).read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError) as exc:
        raise ConfigError(
            [f"[sites] ca_file: {named} cannot be read as PEM"], "Name the authority's file."
        ) from exc
    if "BEGIN CERTIFICATE" not in text or "PRIVATE KEY" in text or len(text) > LARGEST_CA:
        raise ConfigError(
            [f"[sites] ca_file: {named} is no certificate alone"],
            "Sites are given this file: name the authority's certificate, without its key.",
        )
    return text
