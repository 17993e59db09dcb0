"""A broker as a fleet has it: the folder the program writes, run by a real Mosquitto."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

import msgspec
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from firmware_bridge.fleet.identity.broker_folder import BrokerPlan, write_broker
from firmware_bridge.fleet.identity.keeper import Keeper, Login
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.secrets import Secret
from tests.peers import PATIENCE_S, Broker, program, started

PREFIX = "lastlitre"


class FleetBroker(msgspec.Struct, frozen=True, kw_only=True):
    """A running broker and its folder."""

    server: Broker
    folder: Path

    def options(self, login: str) -> MqttOptions:
        """How `keeper` or `worker` gets in."""
        secret = (self.folder / f"{login}.secret").read_text().strip()
        return self.options_of(login, secret)

    def options_of(self, login: str, secret: str) -> MqttOptions:
        """How anybody gets in."""
        return MqttOptions(
            host="127.0.0.1",
            port=self.server.port,
            user=login,
            password=Secret(secret),
            topic_prefix=PREFIX,
        )

    def keeper(self) -> Keeper:
        """Who makes and removes logins."""
        return Keeper(self.options("keeper"))


@contextmanager
def fleet_broker(folder: Path, *known: Login, prefix: str = PREFIX) -> Iterator[FleetBroker]:
    """A broker that knows these logins from the start."""
    server = started(lambda port: _server(folder, prefix, known, port))
    try:
        yield FleetBroker(server=server, folder=folder)
    finally:
        server.stop()


def _server(folder: Path, prefix: str, known: tuple[Login, ...], port: int) -> Broker:
    write_broker(folder, BrokerPlan(prefix=prefix, local_port=port, run_as="root"), known)
    command = [program("mosquitto"), "-c", str(folder / "mosquitto.conf")]
    return Broker(command, port, folder / "broker.log")


class Anybody:
    """A plain client that tries things and says what came of them; use it as `with`."""

    def __init__(
        self,
        broker: FleetBroker,
        login: str = "",
        secret: str = "",
        *,
        client_id: str = "",
        v5: bool = True,
        will: str = "",
        stays_s: int = 0,
    ) -> None:
        self.got: list[tuple[str, bytes]] = []
        self.ended = False
        self.let_in = False
        self._turn = threading.Condition()
        self._answers: dict[int, bool] = {}
        version = MQTTProtocolVersion.MQTTv5 if v5 else MQTTProtocolVersion.MQTTv311
        self._client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=client_id or login or "anybody",
            protocol=version,
            reconnect_on_failure=False,
        )
        if login:
            self._client.username_pw_set(login, secret)
        if will:
            self._client.will_set(will, b"false", qos=1, retain=True)
        self._client.on_connect = self._on_connect
        self._client.on_publish = self._on_publish
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message
        self._client.on_disconnect = self._on_disconnect
        session: dict[str, Any] = {}
        if v5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = stays_s
            session = {"clean_start": not stays_s, "properties": properties}
        self._client.connect("127.0.0.1", broker.server.port, **session)
        self._client.loop_start()
        self._until(lambda: self.let_in or self.ended)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def may_read(self, topic: str) -> bool:
        """Whether the broker grants this subscription."""
        _, number = self._client.subscribe(topic, 1)
        assert number is not None
        return self._answer(number)

    def may_write(self, topic: str, payload: bytes = b"x", *, retain: bool = False) -> bool:
        """Whether the broker takes this message (MQTT 3.1.1 says yes to everybody)."""
        sent = self._client.publish(topic, payload, 1, retain)
        return self._answer(sent.mid)

    def write_unasked(self, topic: str) -> None:
        """Publish with QoS 0, to which there is no answer."""
        self._client.publish(topic, b"forged", 0, True)

    def until_got(self, topic: str) -> bytes:
        """The payload of the first message of this topic."""
        self._until(lambda: any(name == topic for name, _ in self.got))
        return next(payload for name, payload in self.got if name == topic)

    def until_cut(self) -> None:
        """Wait for the broker to end the connection."""
        self._until(lambda: self.ended)

    def vanish(self) -> None:
        """Go without a word, as a box without power does: the broker speaks the will."""
        line = self._client.socket()
        assert line is not None
        line.close()
        self._client.loop_stop()

    def _answer(self, number: int) -> bool:
        self._until(lambda: number in self._answers or self.ended)
        with self._turn:
            return self._answers.get(number, False)

    def _until(self, true: Any) -> None:
        with self._turn:
            assert self._turn.wait_for(true, PATIENCE_S)

    def _note(self, **what: Any) -> None:
        with self._turn:
            for name, value in what.items():
                setattr(self, name, value)
            self._turn.notify_all()

    def _on_connect(self, c: Any, d: Any, f: Any, code: Any, p: Any) -> None:
        self._note(let_in=not code.is_failure, ended=code.is_failure)

    def _on_disconnect(self, c: Any, d: Any, f: Any, code: Any, p: Any) -> None:
        self._note(ended=True)

    def _on_publish(self, c: Any, d: Any, number: int, code: Any, p: Any) -> None:
        with self._turn:
            self._answers[number] = not code.is_failure
            self._turn.notify_all()

    def _on_subscribe(self, c: Any, d: Any, number: int, codes: Any, p: Any) -> None:
        with self._turn:
            self._answers[number] = not any(code.is_failure for code in codes)
            self._turn.notify_all()

    def _on_message(self, c: Any, d: Any, message: MQTTMessage) -> None:
        with self._turn:
            self.got.append((message.topic, bytes(message.payload)))
            self._turn.notify_all()
