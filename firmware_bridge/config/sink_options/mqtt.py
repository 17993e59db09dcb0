"""An MQTT broker."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.at_broker import (
    Authority,
    BrokerHost,
    BrokerPasswordEnv,
    BrokerPasswordFile,
    BrokerPort,
    Encrypted,
    TopicPrefix,
    port_used,
)
from firmware_bridge.config.readers import asks, env_name, file_path, matching
from firmware_bridge.config.wiring import SinkOptions


class Mqtt(SinkOptions, frozen=True, kw_only=True):
    """An MQTT broker."""

    host: BrokerHost
    port: BrokerPort = None
    tls: Encrypted = False
    ca_file: Authority = None
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
    topic_prefix: TopicPrefix = "lastlitre"
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
    password_env: BrokerPasswordEnv = None
    password_file: BrokerPasswordFile = None

    @property
    def port_used(self) -> int:
        """The port stated, or the usual one."""
        return port_used(self.port, self.tls)


OPTIONS = Mqtt
