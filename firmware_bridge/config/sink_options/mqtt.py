"""An MQTT broker."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.readers import asks, env_name, file_path, host, matching, whole
from firmware_bridge.config.wiring import SinkOptions


class Mqtt(SinkOptions, frozen=True, kw_only=True):
    """An MQTT broker."""

    host: Annotated[str, asks("Its name or address.", host, example='"127.0.0.1"', live=True)]
    port: Annotated[
        int | None,
        asks("Port; left out, 1883, or 8883 with tls.", whole(1, 65535), example="1883"),
    ] = None
    tls: Annotated[bool, asks("Whether the line is encrypted.", example="false")] = False
    ca_file: Annotated[
        str | None,
        asks(
            "Certificate authority to trust, where it is not the system's.",
            file_path,
            example='"ca.pem"',
        ),
    ] = None
    cert_file: Annotated[
        str | None,
        asks(
            "Our own certificate, where the broker asks for one.",
            file_path,
            example='"site.pem"',
        ),
    ] = None
    key_file: Annotated[
        str | None,
        asks(
            "Its key, in a file that only its owner can read (0600).",
            file_path,
            example='"site.key"',
        ),
    ] = None
    topic_prefix: Annotated[
        str,
        asks(
            "What its topics begin with.",
            matching(
                r"[^#+/$\s][^#+\s]{0,199}(?<!/)", "words joined by /, without #, + and spaces"
            ),
            example='"lastlitre"',
        ),
    ] = "lastlitre"
    client_id: Annotated[
        str | None,
        asks(
            "How it names itself; left out, the site's id.",
            matching(r"[A-Za-z0-9-]{1,64}", "letters, digits and hyphens"),
            example='"harbour-steps"',
        ),
    ] = None
    user: Annotated[
        str | None,
        asks(
            "The user it knows us as, where the name is no secret.",
            matching(r"[^\s\x00-\x1f\x7f]{1,100}", "a name without spaces"),
            example='"site-1f2e3d4c5b6a7988"',
        ),
    ] = None
    user_env: Annotated[
        str | None,
        asks(
            "Or the environment variable with the user.",
            env_name,
            example='"LASTLITRE_MQTT_USER"',
        ),
    ] = None
    password_env: Annotated[
        str | None,
        asks(
            "Environment variable with the password.", env_name, example='"LASTLITRE_MQTT_PASSWORD"'
        ),
    ] = None
    password_file: Annotated[
        str | None,
        asks(
            "Or a file with the password that only its owner can read (0600).",
            file_path,
            example='"mqtt.password"',
        ),
    ] = None

    @property
    def port_used(self) -> int:
        """The port stated, or the usual one."""
        return self.port if self.port is not None else (8883 if self.tls else 1883)


OPTIONS = Mqtt
