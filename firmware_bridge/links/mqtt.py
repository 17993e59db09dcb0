"""Messages of an MQTT broker, by paho-mqtt, as a link.

Each message is put as one JSON line, a `Letter`. The library works on a thread of its own;
everything it says is handed to the event loop.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import msgspec
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from analytics.errors import LinkError, SinkError
from firmware_bridge.forward.broker import NOT_AUTHORISED, MqttOptions, tls_of
from firmware_bridge.links.post import Post
from firmware_bridge.readings.letters import Letter

LARGEST = 65_536
"""A payload of more bytes is no reading."""
SESSION_S = 86_400
"""So long the broker keeps messages for a meter that has a time of its own in them."""
GREETING_S = 15.0


class MqttLine:
    """One subscription. With `keep_session` the broker keeps what comes while nobody listens."""

    def __init__(
        self, options: MqttOptions, topic: str, client_id: str, *, keep_session: bool
    ) -> None:
        self._options = options
        self._topic = topic
        self._client_id = client_id
        self._keep = keep_session
        self._client: Client | None = None
        self._post = Post()

    @property
    def name(self) -> str:
        return f"broker {self._options.host}:{self._options.port}, topic {self._topic}"

    async def open(self) -> None:
        """Connect and subscribe. Raises LinkError."""
        self.close()
        self._post.begin()
        loop = asyncio.get_running_loop()
        greeted: asyncio.Future[ReasonCode] = loop.create_future()
        subscribed: asyncio.Future[ReasonCode] = loop.create_future()
        client = self._client = self._made(loop, greeted, subscribed)
        try:
            await asyncio.to_thread(self._connect, client)
            client.loop_start()
            await self._welcome(client, greeted, subscribed)
        except LinkError:
            self.close()
            raise

    async def read(self) -> bytes:
        """Messages since the last time. Raises LinkError when the connection ended."""
        return await self._post.read()

    def write(self, data: bytes) -> None:
        """Nothing is ever published by a meter."""

    def close(self) -> None:
        """Say goodbye; harmless when it is not open."""
        client, self._client = self._client, None
        if client is None:
            return
        client.on_message = client.on_disconnect = None
        client.disconnect()
        client.loop_stop()

    def _made(
        self,
        loop: asyncio.AbstractEventLoop,
        greeted: asyncio.Future[ReasonCode],
        subscribed: asyncio.Future[ReasonCode],
    ) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            protocol=MQTTProtocolVersion.MQTTv5,
            reconnect_on_failure=False,
        )
        if self._options.user:
            client.username_pw_set(self._options.user, str(self._options.password) or None)

        def on_loop(work: Callable[..., Any], *given: Any) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(work, *given)

        def on_connect(_: Client, __: Any, ___: Any, code: ReasonCode, ____: Any) -> None:
            on_loop(_settle, greeted, code)

        def on_subscribe(_: Client, __: Any, ___: int, codes: list[ReasonCode], ____: Any) -> None:
            on_loop(_settle, subscribed, codes[0])

        def on_message(_: Client, __: Any, message: Any) -> None:
            on_loop(self._post.put, msgspec.json.encode(_letter(message)))

        def on_disconnect(_: Client, __: Any, ___: Any, code: ReasonCode, ____: Any) -> None:
            fault = LinkError(f"{self.name}: the connection ended: {code}", "See the broker's log.")
            on_loop(self._post.fail, fault)

        client.on_connect, client.on_subscribe = on_connect, on_subscribe
        client.on_message, client.on_disconnect = on_message, on_disconnect
        return client

    def _connect(self, client: Client) -> None:
        """Connect. Raises LinkError. Waits: not for the loop."""
        options = self._options
        try:
            if options.tls:
                client.tls_set_context(tls_of(options))
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = SESSION_S if self._keep else 0
            client.connect(
                options.host,
                options.port,
                keepalive=options.keep_alive_s,
                clean_start=not self._keep,
                properties=properties,
            )
        except SinkError as fault:
            raise LinkError(str(fault), fault.hint) from fault
        except (OSError, ValueError) as fault:
            hint = "Check that the broker runs, that host and port are right, and tls and ca_file."
            raise LinkError(f"{self.name} cannot be reached: {fault}", hint) from fault

    async def _welcome(
        self,
        client: Client,
        greeted: asyncio.Future[ReasonCode],
        subscribed: asyncio.Future[ReasonCode],
    ) -> None:
        try:
            async with asyncio.timeout(GREETING_S):
                code = await greeted
                if not code.is_failure:
                    client.subscribe(self._topic, qos=1)
                    code = await subscribed
        except TimeoutError as fault:
            hint = "Check that host and port belong to an MQTT broker."
            raise LinkError(f"{self.name} says nothing", hint) from fault
        if code.is_failure:
            hint = (
                "Check user and password, and what the broker lets this user read."
                if code.value in NOT_AUTHORISED
                else "See the broker's log."
            )
            raise LinkError(f"{self.name} lets us not in: {code}", hint)


def _settle(future: asyncio.Future[ReasonCode], code: ReasonCode) -> None:
    if not future.done():
        future.set_result(code)


def _letter(message: Any) -> Letter:
    payload: bytes = message.payload
    if len(payload) > LARGEST:
        return Letter(oversize=len(payload), r=bool(message.retain))
    text = payload.decode("utf-8", errors="replace")
    return Letter(p=text, r=bool(message.retain), d=bool(message.dup))
