"""A receiver at work: subscribes, keeps, asks for what is missing, and says what is safe.

    broker -> client's thread -> queue -> one thread: take all that waits in one step (synced),
                                          then publish "durable up to N" of every site touched

A message that is lost on the way (a full queue of the broker, a crash of either side) leaves a gap
in the numbers or keeps N back; the site sends again. So nothing here depends on the broker's
memory, and a receiver may be stopped, killed, or given an older file at any moment.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Self

import structlog
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from analytics.errors import StoreError
from firmware_bridge.forward.broker import MqttOptions, new_client
from firmware_bridge.forward.payloads import VERSION, Message, durable_message, wanted_message
from firmware_bridge.receiver.gaps import GapPace, Gaps
from firmware_bridge.receiver.keeping import Keeping
from firmware_bridge.receiver.words import Incoming

log = structlog.get_logger(__name__)

WAITING = 4000
"""Messages held in memory at most; then the broker has to wait."""

TOGETHER = 1000
"""Messages kept in one step at most."""

SESSION_S = 86_400
"""How long the broker keeps messages for a receiver that is away, as far as its own limits go."""


class ReceiverPace(GapPace, frozen=True, kw_only=True):
    """How often, in seconds."""

    look_s: float = 0.2
    spans_asked: int = 50


class Receiver:
    """Use it as `with Receiver(options, path) as receiver`; `kept` is the file."""

    def __init__(
        self,
        options: MqttOptions,
        path: Path,
        *,
        pace: ReceiverPace = ReceiverPace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self.kept = Keeping(path, options.topic_prefix)
        self._options = options
        self._pace = pace
        self._now_ms = now_ms
        self._queue: queue.Queue[Incoming | None] = queue.Queue(WAITING)
        self._stopping = threading.Event()
        self._greet = threading.Event()
        self._gaps = Gaps(pace)
        self._client = new_client(options, options.client_id or "lastlitre-receiver", again=True)
        self._client.on_connect = self._on_connect
        self._client.on_message = self._on_message
        self._worker = threading.Thread(target=self._work, name="receiver", daemon=True)

    def __enter__(self) -> Self:
        """Begin; a broker that is not there yet is tried again and again."""
        session = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        session.SessionExpiryInterval = SESSION_S
        self._client.reconnect_delay_set(1, 30)
        self._client.connect_async(
            self._options.host,
            self._options.port,
            keepalive=self._options.keep_alive_s,
            clean_start=False,
            properties=session,
        )
        self._client.loop_start()
        self._worker.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        self._client.disconnect()
        self._client.loop_stop()
        self._worker.join()
        self.kept.close()

    def _on_connect(
        self, client: Client, data: Any, flags: Any, code: Any, properties: Any
    ) -> None:
        if code.is_failure:
            log.warning("receiver.refused", why=str(code))
            return
        topic = f"{self._options.topic_prefix}/v{VERSION}/+/#"
        client.subscribe(topic, options=SubscribeOptions(qos=1, noLocal=True))
        self._greet.set()

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        incoming = Incoming(message.topic, bytes(message.payload))
        while not self._stopping.is_set():
            try:
                self._queue.put(incoming, timeout=0.5)
            except queue.Full:
                continue
            return

    def _work(self) -> None:
        while not self._stopping.is_set():
            messages = self._waiting()
            touched: set[str] = set()
            if messages:
                touched = self._take(messages)
            if self._greet.is_set():
                self._greet.clear()
                touched |= set(self.kept.sites())
            self._confirm(touched)
            self._ask()

    def _waiting(self) -> list[Incoming]:
        messages: list[Incoming] = []
        while len(messages) < TOGETHER:
            try:
                found = self._queue.get(timeout=0.0 if messages else self._pace.look_s)
            except (queue.Empty, ValueError):
                break
            if found is not None:
                messages.append(found)
        return messages

    def _take(self, messages: Sequence[Incoming]) -> set[str]:
        """Keep the messages; where that fails they are dropped, and the sites send them again."""
        try:
            return self.kept.take(messages, self._now_ms())
        except StoreError as exc:
            log.warning("receiver.not_kept", messages=len(messages), why=str(exc), hint=exc.hint)
            self._stopping.wait(1.0)
            return set()

    def _confirm(self, sites: set[str]) -> None:
        if not sites:
            return
        known = self.kept.sites()
        for site in sites:
            prefix = self._options.topic_prefix
            self._publish(durable_message(site, prefix, known[site]))

    def _ask(self) -> None:
        """Ask for numbers that have been missing for a while, not too often."""
        now_s = time.monotonic()
        for site in self.kept.sites():
            missing = self.kept.missing(site, self._pace.spans_asked)
            if self._gaps.look(site, missing, now_s):
                self._publish(wanted_message(site, self._options.topic_prefix, missing))

    def _publish(self, message: Message) -> None:
        self._client.publish(message.topic, message.payload, 1, message.retain)
