"""The sink for an MQTT 5 broker. Topics and payloads are described in `payloads.py`.

The store is the queue, so nothing is kept here or in the client library: a connection that fails
is thrown away with all it had under way, and the next `send` begins a new one (clean start, no
session at the broker). What had arrived before the failure then arrives twice, with the same
numbers.

A PUBACK means that the broker has the message in its memory, not that anybody has it for good. So
the sink listens to the receiver: rows are done with when it says "durable up to N", and are sent
again when it asks for them or is silent about them (`confirming.py`).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

from paho.mqtt.reasoncodes import ReasonCode

from analytics.errors import PartialWrite, SinkError
from firmware_bridge.forward.broker import NOT_AUTHORISED, Connection, MqttOptions
from firmware_bridge.forward.confirming import Confirming
from firmware_bridge.forward.payloads import (
    Message,
    Newest,
    card_message,
    gone_message,
    newest_of,
    now_messages,
    online_message,
    pack,
    topic,
    void_numbers,
)
from firmware_bridge.forward.sink import Heard, Parcel, Sink, SiteCard, Span
from firmware_bridge.store.out_row import OutRow

WRONG_MESSAGE = frozenset((0x90, 0x95, 0x99))
"""Topic name invalid, packet too large, payload format invalid (MQTT 5, table 2-6)."""


class MqttSink:
    """Rows to one broker."""

    def __init__(self, options: MqttOptions, card: SiteCard, now_ms: Callable[[], int]) -> None:
        self._options = options
        self._card = card
        self._connection: Connection | None = None
        self._newest: Newest = {}
        self._closed = False
        self._confirming = Confirming(options.patience)
        self._turn = threading.Lock()
        self._words = (self._topic("durable"), self._topic("wanted"))

    def send(self, parcel: Parcel) -> None:
        """Publish the rows; see `OpenSink.send`."""
        prefix, site_id, box = self._options.topic_prefix, self._card.site_id, self._card.box
        messages, rejected = pack(parcel.rows, prefix, site_id, box)
        if spans := void_numbers(parcel, rejected):
            messages.append(gone_message(spans, prefix, site_id, box))
        if refused := self._deliver(messages):
            left_out = [(seq, seq) for seq in sorted(refused)]
            self._deliver([gone_message(left_out, prefix, site_id, box)])
            rejected |= refused
        with self._turn:
            span = Span(parcel.after, parcel.up_to)
            self._confirming.sent(span, parcel.again, time.monotonic())
        if rejected:
            raise PartialWrite(
                f"{self._options.host}: {len(rejected)} of {len(parcel.rows)} rows refused",
                rejected,
            )

    def heard(self) -> Heard:
        """See `OpenSink.heard`; the connection is kept up, so that the receiver can be heard."""
        self._connected()
        with self._turn:
            return self._confirming.heard(time.monotonic())

    def show_now(self, rows: Sequence[OutRow]) -> None:
        """Publish the newest of every line, retained; see `OpenSink.show_now`."""
        self._newest = newest_of(self._newest, rows)
        prefix, site_id = self._options.topic_prefix, self._card.site_id
        self._deliver(now_messages(self._newest, prefix, site_id, self._card.box))

    def close(self) -> None:
        """Tell the broker that the site goes offline, and hang up."""
        self._closed = True
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.end(self._online(False))

    def _deliver(self, messages: Sequence[Message]) -> dict[int, str]:
        """Publish on a connection that stands; a failed one is dropped. Raises SinkError."""
        return self._converse(self._connected(), messages)

    def _connected(self) -> Connection:
        connection = self._connection
        if connection is None or connection.ended:
            connection = self._connect()
        return connection

    def _connect(self) -> Connection:
        """A greeted connection on which the site has introduced itself; raises SinkError."""
        if self._closed:
            raise SinkError("this sink is closed")
        if self._connection is not None:
            self._connection.drop()
        client_id = self._options.client_id or f"lastlitre-{self._card.site_id}"
        connection = Connection(self._options, client_id, self._online(False), self._on_word)
        self._connection = connection
        try:
            connection.open()
            connection.listen(self._words)
        except SinkError:
            connection.drop()
            raise
        hello = (card_message(self._card, self._options.topic_prefix), self._online(True))
        self._converse(connection, hello)
        with self._turn:
            self._confirming.reconnected(time.monotonic())
        return connection

    def _converse(self, connection: Connection, messages: Sequence[Message]) -> dict[int, str]:
        try:
            return _refused(messages, connection.deliver(messages))
        except SinkError:
            connection.drop()
            raise

    def _on_word(self, topic_name: str, payload: bytes) -> None:
        """A word of the receiver, on the library's thread."""
        name = topic_name.rsplit("/", 1)[1]
        with self._turn:
            self._confirming.hear(name, payload, self._card.site_id, time.monotonic())

    def _topic(self, name: str) -> str:
        return topic(self._options.topic_prefix, self._card.site_id, name)

    def _online(self, online: bool) -> Message:
        card = self._card
        return online_message(card.site_id, self._options.topic_prefix, online, card.box)


def _refused(messages: Sequence[Message], answers: Sequence[ReasonCode]) -> dict[int, str]:
    """The rows the broker will never take, with its reason. Raises SinkError for the rest."""
    rejected: dict[int, str] = {}
    for message, answer in zip(messages, answers, strict=True):
        if not answer.is_failure:
            continue
        if answer.value not in WRONG_MESSAGE:
            raise _denied(message.topic, answer)
        rejected |= dict.fromkeys(message.rows, f"the broker refuses the message: {answer}")
    return rejected


def _denied(topic: str, answer: ReasonCode) -> SinkError:
    if answer.value in NOT_AUTHORISED:
        return SinkError(
            f"the broker forbids us to publish to {topic}: {answer}",
            "Let this user publish below the site's topic (the broker's access list).",
            retryable=False,
        )
    return SinkError(f"the broker did not take {topic}: {answer}", "See the broker's log.")


SINK = Sink(
    name="mqtt",
    options=MqttOptions,
    open=MqttSink,
    rows_a_send=3000,
    shows_now=True,
    window_rows=30_000,
    keeps_line=True,
)
