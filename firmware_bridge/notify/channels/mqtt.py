"""Notices over MQTT 5: one JSON message each time, for a light, a bell or a house's own system.

    <prefix>/v1/<site>/notices    MessageJson    QoS 1, not retained

The message's `key` is the same in every try.
"""

from __future__ import annotations

import threading
from typing import Annotated

from analytics.errors import SinkError
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
from firmware_bridge.config.readers import asks, env_name
from firmware_bridge.config.wiring import NotifierOptions
from firmware_bridge.forward.broker import Connection, MqttOptions
from firmware_bridge.forward.payloads import Message as Publication
from firmware_bridge.forward.payloads import topic
from firmware_bridge.notify.notice import Message, Notifier, as_json


class MqttNotices(NotifierOptions, frozen=True, kw_only=True):
    """An MQTT broker, for notices alone."""

    host: BrokerHost
    port: BrokerPort = None
    tls: Encrypted = False
    ca_file: Authority = None
    topic_prefix: TopicPrefix = "lastlitre"
    user_env: Annotated[
        str | None,
        asks("Environment variable with the user.", env_name, example='"LASTLITRE_MQTT_USER"'),
    ] = None
    password_env: BrokerPasswordEnv = None
    password_file: BrokerPasswordFile = None

    @property
    def port_used(self) -> int:
        """The port stated, or the usual one."""
        return port_used(self.port, self.tls)


class MqttNotifier:
    """Publishes to one broker, a connection for each message: notices are rare."""

    def __init__(self, options: MqttOptions, site_id: str) -> None:
        self._options = options
        self._topic = topic(options.topic_prefix, site_id, "notices")
        self._client_id = f"lastlitre-{site_id}-notices"
        self._one_at_a_time = threading.Lock()

    def send(self, message: Message) -> None:
        """See `OpenNotifier.send`."""
        gone = Publication(topic=f"{self._topic}/gone", payload=b"")
        with self._one_at_a_time:
            connection = Connection(self._options, self._client_id, gone, _hear_nothing)
            try:
                connection.open()
                told = Publication(topic=self._topic, payload=as_json(message))
                (answer,) = connection.deliver([told])
            finally:
                connection.drop()
        if answer.is_failure:
            hint = "Let this user publish below the site's topic (the broker's access list)."
            raise SinkError(f"the broker did not take {self._topic}: {answer}", hint,
                            retryable=False)  # fmt: skip

    def close(self) -> None:
        """See `OpenNotifier.close`; no connection is kept."""


def _hear_nothing(_: str, __: bytes) -> None:
    """Nothing is subscribed to."""


OPTIONS = MqttNotices
NOTIFIER = Notifier(name="mqtt", options=MqttOptions, open=MqttNotifier)
