"""The keeper: makes and removes logins at a broker that runs, by its dynamic-security plugin.

The plugin takes commands as JSON on `$CONTROL/dynamic-security/v1` and answers each below it, on
`response`, with the word it was sent along. It holds within the same moment: a client that is
removed is cut off. Each errand has a connection of its own, as there are few.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import msgspec

from analytics.errors import LinkError, SinkError
from firmware_bridge.fleet.identity.rules import CONTROL, Rule, role, site_rules
from firmware_bridge.forward.broker import Connection, MqttOptions
from firmware_bridge.forward.payloads import Message

ABSENT = frozenset(("Client not found", "Role not found"))
"""What the plugin says of something that is not there to be removed."""
THERE = frozenset(("Client already exists", "Role already exists"))
"""And of something that is to be made."""

HINT = "Check the broker's address and the keeper's login in the fleet file, and the broker's log."

Command = dict[str, Any]


class Login(msgspec.Struct, frozen=True, kw_only=True):
    """One site's way into the broker. The client's name is the login and none other.

    Two clients of one name throw each other out, so a name is as much a site's own as its topics.
    """

    login: str
    site: str
    secret: str


class Keeper:
    """Speaks to one broker's plugin; every method raises LinkError where it does not do as told."""

    def __init__(self, options: MqttOptions) -> None:
        self._options = options
        self._where = f"broker {options.host}:{options.port}"

    def put(self, found: Login) -> None:
        """Let a site in by this login, whatever stood there under its name before.

        The plugin writes its whole file with each command, so nothing is removed that is not there.
        """
        making = _making(found, site_rules(self._options.topic_prefix, found.site))
        with self._talking() as talk:
            answers = talk(making)
            if THERE.intersection(answers):
                self._judge(talk(_removal(found.login)), ABSENT)
                answers = talk(making)
        self._judge(answers)

    def remove(self, login: str) -> None:
        """Take a login away and cut its connection; one that is not there is as good."""
        with self._talking() as talk:
            answers = talk(_removal(login))
        self._judge(answers, ABSENT)

    @contextmanager
    def _talking(self) -> Iterator[Callable[[Sequence[Command]], list[str | None]]]:
        """A connection to the plugin: commands in, what it says to each out ("" is "done")."""
        heard = _Heard()
        connection = Connection(
            self._options, f"lastlitre-keeper-{secrets.token_hex(6)}", None, heard.take
        )

        def talk(commands: Sequence[Command]) -> list[str | None]:
            said = _numbered(commands)
            body = msgspec.json.encode({"commands": said})
            connection.deliver([Message(topic=f"{CONTROL}/v1", payload=body)])
            words = [command["correlationData"] for command in said]
            return heard.all_of(words, self._options.answer_s)

        try:
            connection.open()
            connection.listen([f"{CONTROL}/v1/response"])
            yield talk
        except SinkError as exc:
            raise LinkError(str(exc), HINT) from exc
        finally:
            connection.drop()

    def _judge(self, answers: Sequence[str | None], as_good: frozenset[str] = frozenset()) -> None:
        for error in answers:
            if error is None:
                raise LinkError(f"{self._where}: its access plugin does not answer", HINT)
            if error and error not in as_good:
                raise LinkError(f"{self._where}: its access plugin says: {error}", HINT)


class _Heard:
    """What the plugin answered, by the word each command carried; "" is "done"."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._answers: dict[str, str] = {}

    def take(self, _: str, payload: bytes) -> None:
        """A message of the plugin, on the library's thread; others' answers come along."""
        try:
            told = msgspec.json.decode(payload, type=_Responses)
        except msgspec.MsgspecError:
            return  # not an answer; who waits for one says that none came
        with self._turn:
            for answer in told.responses:
                self._answers[answer.word] = answer.error
            self._turn.notify_all()

    def all_of(self, words: Sequence[str], patience_s: float) -> list[str | None]:
        """The answers in the order asked; None where none came in time."""
        end_s = time.monotonic() + patience_s
        with self._turn:
            while not self._answers.keys() >= set(words):
                if not self._turn.wait(end_s - time.monotonic()):
                    break
            return [self._answers.get(word) for word in words]


class _Response(msgspec.Struct, frozen=True, kw_only=True):
    error: str = ""
    word: str = msgspec.field(name="correlationData", default="")


class _Responses(msgspec.Struct, frozen=True, kw_only=True):
    responses: list[_Response]


def _making(found: Login, rules: list[Rule]) -> list[Command]:
    return [
        {"command": "createRole", **role(found.login, rules)},
        {
            "command": "createClient",
            "username": found.login,
            "password": found.secret,
            "clientid": found.login,
            "roles": [{"rolename": found.login}],
        },
    ]


def _removal(login: str) -> list[Command]:
    return [
        {"command": "deleteClient", "username": login},
        {"command": "deleteRole", "rolename": login},
    ]


def _numbered(commands: Sequence[Command]) -> list[Command]:
    """Each with a word of its own that comes back with the answer."""
    errand = secrets.token_hex(8)
    return [c | {"correlationData": f"{errand}-{n}"} for n, c in enumerate(commands)]
