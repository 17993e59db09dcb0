"""One connection to an MQTT 5 broker, by paho-mqtt: from its greeting to its end."""

from __future__ import annotations

import contextlib
import socket
import ssl
import stat
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import msgspec
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from analytics.errors import SinkError
from firmware_bridge.forward.confirming import Patience
from firmware_bridge.forward.payloads import Message
from firmware_bridge.secrets import Secret

OnWord = Callable[[str, bytes], None]
"""Gets topic and payload of a message, on the library's thread."""

_T = TypeVar("_T")

IN_FLIGHT = 20
"""Messages without answer at one time; the library gets slower, not faster, with more."""

NOT_AUTHORISED = frozenset((0x86, 0x87, 0x8A, 0x8C))
"""Bad user or password, not authorised, banned, bad way of authentication."""


class MqttOptions(msgspec.Struct, frozen=True, kw_only=True):
    """Where the broker is and how it knows us.

    `ca_file` (PEM) stands in for the machine's own certificate authorities; `cert_file` with
    `key_file` (PEM) is how this client proves who it is. `client_id` is made from the site's name
    unless given; two clients of one name throw each other out.
    """

    host: str
    port: int = 1883
    tls: bool = False
    ca_file: str = ""
    cert_file: str = ""
    key_file: str = ""
    topic_prefix: str = "lastlitre"
    user: str = ""
    password: Secret = Secret("")
    client_id: str = ""
    keep_alive_s: int = 30
    answer_s: float = 10.0
    """How long the broker may stay silent while an answer is due."""
    patience: Patience = Patience()


class TidySocket(ssl.SSLSocket):
    """A socket that is closed when its handshake fails; the client library leaves it open."""

    def do_handshake(self, block: bool = False) -> None:
        """Agree on keys; raises OSError (ssl.SSLError where the certificate is not trusted)."""
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


class Connection:
    """One connection to a broker from its greeting to its end; it is never used again.

    The library calls back on a thread of its own; all that is shared is guarded by `_turn`.
    """

    def __init__(
        self, options: MqttOptions, client_id: str, will: Message | None, on_word: OnWord
    ) -> None:
        self._options = options
        self._where = f"broker {options.host}:{options.port}"
        self._turn = threading.Condition()
        self._greeting: ReasonCode | None = None
        self._answers: dict[int, ReasonCode] = {}
        self._ended = ""
        self._on_word = on_word
        self._client = new_client(options, client_id)
        self._client.max_inflight_messages_set(IN_FLIGHT)
        if will is not None:
            self._client.will_set(will.topic, will.payload, qos=1, retain=True)
        self._client.on_connect = self._on_connect
        self._client.on_publish = self._on_publish
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message
        self._client.on_disconnect = self._on_disconnect

    @property
    def ended(self) -> bool:
        """Whether the connection is no more."""
        with self._turn:
            return bool(self._ended)

    def open(self) -> None:
        """Connect and wait for the broker's greeting; raises SinkError."""
        try:
            self._client.connect(
                self._options.host,
                self._options.port,
                keepalive=self._options.keep_alive_s,
                clean_start=True,
            )
        except (OSError, ValueError) as exc:
            self._no_way(exc)
        self._client.loop_start()
        greeting = self._wait(lambda: self._greeting)
        if greeting.is_failure:
            raise SinkError(
                f"{self._where} lets nobody in: {greeting}",
                "Check user and password of this sink."
                if greeting.value in NOT_AUTHORISED
                else "See the broker's log.",
                retryable=greeting.value not in NOT_AUTHORISED,
            )

    def listen(self, topics: Sequence[str]) -> None:
        """Have messages of these topics handed to `on_word`; raises SinkError."""
        sent, number = self._client.subscribe([(topic, 1) for topic in topics])
        if sent is not MQTTErrorCode.MQTT_ERR_SUCCESS or number is None:
            raise SinkError(f"{self._where} is gone ({sent.name})")
        answer = self._wait(lambda: self._answers.get(number))
        if answer.is_failure:
            raise SinkError(
                f"{self._where} does not let us read {', '.join(topics)}: {answer}",
                "Let this user read these topics (the broker's access list).",
                retryable=False,
            )

    def deliver(self, messages: Sequence[Message]) -> list[ReasonCode]:
        """Publish all and wait for the answers, one a message.

        Raises SinkError when the connection ends or the broker falls silent before the last one.
        """
        numbers: list[int] = []
        for message in messages:
            sent = self._client.publish(message.topic, message.payload, 1, message.retain)
            if sent.rc is not MQTTErrorCode.MQTT_ERR_SUCCESS:
                raise SinkError(f"{self._where} is gone ({sent.rc.name})")
            numbers.append(sent.mid)
        self._wait(lambda: all(number in self._answers for number in numbers) or None)
        with self._turn:
            return [self._answers.pop(number) for number in numbers]

    def end(self, farewell: Message) -> None:
        """Say goodbye, so that the broker keeps the will to itself; without a greeting, hang up."""
        with self._turn:
            greeted = self._greeting is not None and not self._ended
        if greeted:
            self._say_goodbye(farewell)
        self.drop()

    def _say_goodbye(self, farewell: Message) -> None:
        patience_s = min(2.0, self._options.answer_s)
        sent = self._client.publish(farewell.topic, farewell.payload, 1, farewell.retain)
        with self._turn:
            self._turn.wait_for(lambda: sent.mid in self._answers or self._ended, patience_s)
        self._client.disconnect()
        with self._turn:
            self._turn.wait_for(lambda: self._ended, patience_s)

    def drop(self) -> None:
        """Hang up without a word: the broker publishes the will; who waits gets a SinkError."""
        self._end("the connection was closed on this side")
        line = self._client.socket()
        if isinstance(line, socket.socket):
            with contextlib.suppress(OSError):  # it may be closed already, which is as good
                line.shutdown(socket.SHUT_RDWR)
        self._client.loop_stop()

    def _no_way(self, exc: Exception) -> NoReturn:
        if isinstance(exc, ssl.SSLError):
            raise SinkError(
                f"{self._where}: no safe connection: {exc}",
                "Check ca_file, the broker's certificate, and that this port speaks TLS.",
                retryable=False,
            ) from exc
        raise SinkError(
            f"{self._where} cannot be reached: {exc}",
            "Check that the broker runs and that host and port are right.",
        ) from exc

    def _wait(self, ready: Callable[[], _T | None]) -> _T:
        """Wait until `ready` gives something, as long as the broker keeps answering."""
        with self._turn:
            while (found := ready()) is None:
                if self._ended:
                    raise SinkError(f"{self._where}: {self._ended}", "See the broker's log.")
                if not self._turn.wait(self._options.answer_s):
                    raise SinkError(
                        f"{self._where} has said nothing for {self._options.answer_s:g} s",
                        "Check that host and port belong to an MQTT broker, and its load.",
                    )
            return found

    def _end(self, how: str) -> None:
        with self._turn:
            self._ended = self._ended or how
            self._turn.notify_all()

    def _on_connect(
        self, client: Client, data: Any, flags: Any, code: ReasonCode, properties: Any
    ) -> None:
        with self._turn:
            self._greeting = code
            self._turn.notify_all()

    def _on_publish(
        self, client: Client, data: Any, number: int, code: ReasonCode, properties: Any
    ) -> None:
        _confirm_at_once(client)
        with self._turn:
            self._answers[number] = code
            self._turn.notify_all()

    def _on_subscribe(
        self, client: Client, data: Any, number: int, codes: list[ReasonCode], properties: Any
    ) -> None:
        worst = max(codes, key=lambda code: code.value)
        with self._turn:
            self._answers[number] = worst
            self._turn.notify_all()

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        self._on_word(message.topic, bytes(message.payload))

    def _on_disconnect(
        self, client: Client, data: Any, flags: Any, code: ReasonCode, properties: Any
    ) -> None:
        self._end(f"the connection ended: {code}")


def new_client(options: MqttOptions, client_id: str, *, again: bool = False) -> Client:
    """The library's client with these options, not yet connected; raises SinkError.

    `again`: it connects again by itself.
    """
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        protocol=MQTTProtocolVersion.MQTTv5,
        reconnect_on_failure=again,
    )
    if options.user:
        client.username_pw_set(options.user, str(options.password) or None)
    if options.tls:
        client.tls_set_context(tls_of(options))
    return client


def _confirm_at_once(client: Client) -> None:
    """Have the kernel confirm what it received now; it forgets the wish after a while.

    A broker holds small answers back until the one before is confirmed (Nagle), and the kernel
    takes 40 ms over that when it has nothing to send: more than a whole batch takes otherwise.
    """
    line = client.socket()
    if isinstance(line, socket.socket) and hasattr(socket, "TCP_QUICKACK"):  # Linux
        with contextlib.suppress(OSError):  # a line that just went needs no haste
            line.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)


def tls_of(options: MqttOptions) -> ssl.SSLContext:
    """TLS 1.2 or later with the broker's certificate and name checked."""
    try:
        context = ssl.create_default_context(cafile=options.ca_file or None)
    except (OSError, ssl.SSLError) as exc:
        raise SinkError(
            f"ca_file {options.ca_file!r} cannot be used: {exc}",
            "It must be a readable file of certificates in PEM form.",
            retryable=False,
        ) from exc
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.sslsocket_class = TidySocket
    if options.cert_file:
        _show_ourselves(context, options)
    return context


def _show_ourselves(context: ssl.SSLContext, options: MqttOptions) -> None:
    """Load our own certificate and its key, which nobody else may read."""
    key_file = options.key_file or options.cert_file
    try:
        others_read = Path(key_file).stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)
        context.load_cert_chain(options.cert_file, key_file, password="")
    except (OSError, ssl.SSLError) as exc:
        raise SinkError(
            f"cert_file {options.cert_file!r} with key {key_file!r} cannot be used: {exc}",
            "Both must be files in PEM form that belong together; the key has no password.",
            retryable=False,
        ) from exc
    if others_read:
        raise SinkError(
            f"others can open {key_file}", f"Close it: chmod 600 {key_file}", retryable=False
        )
