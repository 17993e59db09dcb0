"""The line to the broker, driven by the worker's own thread: what is not read waits at the broker.

No second thread and no queue of our own: while a step is being written nothing is read, the
kernel's buffers fill, and the broker holds the rest as far as its limits go. What it drops was not
confirmed to the site, which sends it again.

- Messages of all sites come through a shared subscription, each to one worker, with QoS 0: a
  broker's own confirmations would add nothing to the site's, and cost more than the message.
- Cards and presence are told once and not again, so every worker has them with QoS 1, the kept ones
  at once; it does no harm to hear them twice.
- What workers say themselves (`durable`, `wanted`) is not among what they hear.
- A shared subscription never brings what the broker keeps, so the summaries it keeps are asked for
  once, by a subscription that ends when they have come.
"""

from __future__ import annotations

import select
import time
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from analytics.errors import LinkError
from firmware_bridge.forward.broker import MqttOptions, new_client
from firmware_bridge.forward.payloads import VERSION, Message
from firmware_bridge.receiver.words import Incoming

SUMMARIES_S = 5.0
"""So long the summaries the broker keeps are listened for."""


LARGEST_STEP = 2_000_000
"""Bytes gathered for one step, about: more would not fit into a processor's cache."""


class Line:
    """Use it as `with Line(options, name, group, admits) as line`. Not for more than one thread."""

    def __init__(
        self, options: MqttOptions, name: str, group: str, admits: Callable[[str], bool]
    ) -> None:
        self._options = options
        self._where = f"broker {options.host}:{options.port}"
        self._group = group
        self._admits = admits
        self._client: Client = new_client(options, name)
        self._client.on_connect = self._on_connect
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message
        self._client.on_disconnect = self._on_disconnect
        self._messages: list[Incoming] = []
        self._bytes = 0
        self._packets = 0
        self._greeting: ReasonCode | None = None
        self._answers = 0
        self._ended = ""
        self._summaries_until_s = 0.0

    def __enter__(self) -> Line:
        """Connect and subscribe; raises LinkError."""
        try:
            self._client.connect(
                self._options.host,
                self._options.port,
                keepalive=self._options.keep_alive_s,
                clean_start=True,
            )
            self._wait(lambda: self._greeting is not None)
            self._subscribe()
        except (OSError, ValueError) as exc:
            raise LinkError(
                f"{self._where} cannot be reached: {exc}",
                "Check that the broker runs and that host and port are right.",
            ) from exc
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        if not self._ended:
            self._client.loop_write()

    def gather(self, most: int, wait_s: float, linger_s: float) -> list[Incoming]:
        """Messages that came: waits for the first, then a little for company. Raises LinkError."""
        end_s = time.monotonic() + wait_s
        while self._has_room(most):
            now_s = time.monotonic()
            if now_s >= end_s:
                break
            if self._read(end_s - now_s, most) and self._messages:
                end_s = min(end_s, now_s + linger_s)
        self._end_summaries()
        found, self._messages, self._bytes = self._messages, [], 0
        return found

    def publish(self, message: Message, qos: int = 0) -> None:
        """Publish a message; it goes out with the next `flush` or `gather`. Raises LinkError."""
        sent = self._client.publish(message.topic, message.payload, qos, message.retain)
        if sent.rc is not MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkError(f"{self._where} is gone ({sent.rc.name})", "See the broker's log.")

    def _subscribe(self) -> None:
        prefix = self._options.topic_prefix
        once = SubscribeOptions(qos=1)
        self._client.subscribe(
            [
                (f"$share/{self._group}/{prefix}/+/+/+/+", SubscribeOptions(qos=0)),
                (f"$share/{self._group}/{prefix}/+/+/gone", SubscribeOptions(qos=0)),
                (f"{prefix}/+/+/card", once),
                (f"{prefix}/+/+/online", once),
                (self._summaries, SubscribeOptions(qos=0)),
            ]
        )
        self._wait(lambda: self._answers > 0)
        self._summaries_until_s = time.monotonic() + SUMMARIES_S

    @property
    def _summaries(self) -> str:
        return f"{self._options.topic_prefix}/v{VERSION}/+/+/now"

    def _end_summaries(self) -> None:
        if self._summaries_until_s and time.monotonic() > self._summaries_until_s:
            self._client.unsubscribe(self._summaries)
            self._summaries_until_s = 0.0

    def _wait(self, true: Callable[[], bool]) -> None:
        end_s = time.monotonic() + self._options.answer_s
        while not true():
            if time.monotonic() > end_s:
                raise LinkError(
                    f"{self._where} has said nothing for {self._options.answer_s:g} s",
                    "Check that host and port belong to an MQTT broker, and its load.",
                )
            self._read(0.1, 1)

    def _read(self, wait_s: float, most: int) -> bool:
        """Read what is there, waiting for it so long; whether anything came. Raises LinkError."""
        self._alive()
        line: Any = self._client.socket()
        pending = getattr(line, "pending", None)
        if self._client.want_write():
            self._client.loop_write()
        there = bool(pending and pending())
        if not there:
            write = [line] if self._client.want_write() else []
            there = bool(select.select([line], write, [], min(wait_s, 1.0))[0])
        self._client.loop_misc()
        before = len(self._messages)
        while there and self._has_room(most) and not self._ended:
            packets = self._packets
            self._client.loop_read()
            there = self._packets != packets
        self._alive()
        return len(self._messages) > before

    def _has_room(self, most: int) -> bool:
        return len(self._messages) < most and self._bytes < LARGEST_STEP

    def _alive(self) -> None:
        if self._ended or self._client.socket() is None:
            why = self._ended or "the connection is gone"
            raise LinkError(f"{self._where}: {why}", "See the broker's log.")

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        self._packets += 1
        topic = message.topic
        if self._admits(topic):
            self._messages.append(Incoming(topic, bytes(message.payload)))
            self._bytes += len(message.payload)

    def _on_connect(
        self, client: Client, data: Any, flags: Any, code: ReasonCode, properties: Any
    ) -> None:
        self._packets += 1
        self._greeting = code
        if code.is_failure:
            self._ended = f"it lets nobody in: {code}"

    def _on_subscribe(
        self, client: Client, data: Any, number: int, codes: list[ReasonCode], properties: Any
    ) -> None:
        self._packets += 1
        self._answers += 1
        refused = [str(code) for code in codes if code.is_failure]
        if refused:
            self._ended = f"it does not let us read all topics: {refused[0]}"

    def _on_disconnect(
        self, client: Client, data: Any, flags: Any, code: ReasonCode, properties: Any
    ) -> None:
        self._ended = self._ended or f"the connection ended: {code}"
