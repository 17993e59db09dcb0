"""Set a node up over its line: ask what it is, how its self test ends, and change its settings."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

import msgspec

from analytics.errors import MeterError
from firmware_bridge.firmware import frames
from firmware_bridge.firmware.keep import SETTINGS
from firmware_bridge.links import Link

ASK_EVERY_S = 1.0
PATIENCE_S = 12.0


class NodeFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What a node said of itself. `settings` are the values in force, in the node's order."""

    hello: frames.Hello
    test: frames.SelfTest
    settings: dict[str, int]


async def set_up(
    link: Link, wanted: Mapping[str, int], patience_s: float = PATIENCE_S
) -> NodeFacts:
    """Change these settings and ask for everything.

    Raises LinkError when the port cannot be used, MeterError when the node does not answer or
    refuses a value, or when there is no such setting.
    """
    _check(wanted)
    await link.open()
    try:
        async with asyncio.timeout(patience_s):
            return await _Talk(link, wanted).over()
    except TimeoutError:
        raise MeterError(
            f"No node answers on {link.name}.",
            "Check that a node runs there, and its pace against --baud.",
        ) from None
    finally:
        link.close()


class _Talk:
    """Questions on their way and answers that came."""

    def __init__(self, link: Link, wanted: Mapping[str, int]) -> None:
        self._link = link
        self._wanted = wanted
        self._hello: frames.Hello | None = None
        self._test: frames.SelfTest | None = None
        self._settings: dict[str, int] = {}

    async def over(self) -> NodeFacts:
        """Ask until everything is answered."""
        parser = frames.Parser()
        while True:
            self._ask()
            try:
                async with asyncio.timeout(ASK_EVERY_S):
                    while not self._done():
                        for frame in parser.feed(await self._link.read()):
                            self._hear(frame)
            except TimeoutError:
                continue
            if self._hello is not None and self._test is not None:
                order = {key: self._settings[key] for key, *_ in SETTINGS}
                return NodeFacts(hello=self._hello, test=self._test, settings=order)

    def _ask(self) -> None:
        """What is not answered yet; the node's own number first, because it answers to that."""
        out: list[frames.Frame] = []
        if self._hello is None:
            out.append(frames.Ask(frames.HELLO_ASK))
        for key, *_ in SETTINGS:
            if key not in self._settings:
                value = str(self._wanted[key]) if key in self._wanted else ""
                out.append(frames.Setup(frames.SETUP, 0, 0, key, value))
        if self._test is None:
            out.append(frames.Ask(frames.SELFTEST_ASK))
        self._link.write(b"".join(frame.wire() for frame in out))

    def _done(self) -> bool:
        return (
            self._hello is not None
            and self._test is not None
            and len(self._settings) == len(SETTINGS)
        )

    def _hear(self, frame: frames.Frame) -> None:
        if isinstance(frame, frames.Hello):
            self._hello = frame
        elif isinstance(frame, frames.SelfTest):
            self._test = frame
        elif isinstance(frame, frames.Setup) and frame.kind == frames.SETUP_ANSWER:
            self._take(frame)

    def _take(self, answer: frames.Setup) -> None:
        if answer.result == frames.SETUP_NO_SUCH_KEY:
            raise MeterError(
                f"The node has no setting {answer.key!r}.",
                "Copy the newest program to it: lastlitre firmware FOLDER.",
            )
        if answer.result != frames.SETUP_DONE or not answer.value.isdigit():
            raise MeterError(
                f"The node refuses {answer.key}={self._wanted.get(answer.key, '')}; "
                f"{answer.value} stays.",
                f"It takes {_limits(answer.key)}.",
            )
        self._settings[answer.key] = int(answer.value)


def _check(wanted: Mapping[str, int]) -> None:
    known = [key for key, *_ in SETTINGS]
    for key, value in wanted.items():
        if key not in known:
            raise MeterError(f"There is no setting {key!r}.", f"There are: {', '.join(known)}.")
        least, most = next(s[2:] for s in SETTINGS if s[0] == key)
        if not least <= value <= most:
            raise MeterError(f"{key}={value} is not possible.", f"It takes {_limits(key)}.")


def _limits(key: str) -> str:
    return next(f"{least} to {most}" for name, _, least, most in SETTINGS if name == key)
