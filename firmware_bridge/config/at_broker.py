"""Keys by which a table says how a broker is reached: the same words wherever one is named."""

from __future__ import annotations

from typing import Annotated, TypeAlias

from firmware_bridge.config.readers import asks, env_name, file_path, host, matching, whole

BrokerHost: TypeAlias = Annotated[
    str, asks("Its name or address.", host, example='"127.0.0.1"', live=True)
]
BrokerPort: TypeAlias = Annotated[
    int | None,
    asks("Port; left out, 1883, or 8883 with tls.", whole(1, 65535), example="1883"),
]
Encrypted: TypeAlias = Annotated[bool, asks("Whether the line is encrypted.", example="false")]
Authority: TypeAlias = Annotated[
    str | None,
    asks(
        "Certificate authority to trust, where it is not the system's.",
        file_path,
        example='"ca.pem"',
    ),
]
TopicPrefix: TypeAlias = Annotated[
    str,
    asks(
        "What its topics begin with.",
        matching(r"[^#+/$\s][^#+\s]{0,199}(?<!/)", "words joined by /, without #, + and spaces"),
        example='"lastlitre"',
    ),
]
BrokerPasswordEnv: TypeAlias = Annotated[
    str | None,
    asks("Environment variable with the password.", env_name, example='"LASTLITRE_MQTT_PASSWORD"'),
]
BrokerPasswordFile: TypeAlias = Annotated[
    str | None,
    asks(
        "Or a file with the password that only its owner can read (0600).",
        file_path,
        example='"mqtt.password"',
    ),
]


def port_used(port: int | None, tls: bool) -> int:
    """The port stated, or the usual one."""
    return port if port is not None else (8883 if tls else 1883)
