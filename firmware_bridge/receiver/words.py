"""A message of a site read strictly: what it says, or why it makes no sense."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any
from urllib.parse import unquote

import msgspec

from firmware_bridge.forward.payloads import (
    NO_LINE,
    TOPICS,
    VERSION,
    Batch,
    Card,
    Gone,
    Now,
    Online,
)

LARGEST_BYTES = 1_000_000
OWN = frozenset(("durable", "wanted"))
"""What a receiver itself says below a site."""

_OF_SITE: dict[str, msgspec.json.Decoder[Any]] = {
    "card": msgspec.json.Decoder(Card),
    "online": msgspec.json.Decoder(Online),
    "gone": msgspec.json.Decoder(Gone),
}
_now = msgspec.json.Decoder(Now)
_batch = msgspec.json.Decoder(Batch)
_KINDS = {name: kind for kind, name in TOPICS.items()}

Said = Batch | Gone | Now | Card | Online


class Incoming(msgspec.Struct, frozen=True):
    """A message as it came."""

    topic: str
    payload: bytes


def understood(message: Incoming, prefix: str) -> Said | None:
    """What a message says; None for a receiver's own words.

    Raises ValueError with the reason where it is not what its topic promises.
    """
    levels = _levels(message.topic, prefix)
    if not 2 <= len(levels) <= 3:
        raise ValueError("its topic is none of ours")
    if len(message.payload) > LARGEST_BYTES:
        raise ValueError(f"it has {len(message.payload)} bytes")
    *_, name = levels
    if len(levels) == 2 and name in OWN:
        return None
    try:
        said: Said = _decoder(len(levels), name).decode(message.payload)
    except RecursionError as exc:
        raise ValueError("it is nested without end") from exc
    _check(said, levels)
    return said


@lru_cache(maxsize=65_536)
def _levels(topic: str, prefix: str) -> tuple[str, ...]:
    """What a topic says below the prefix and version, in plain text."""
    return tuple(unquote(part) for part in topic.removeprefix(f"{prefix}/v{VERSION}/").split("/"))


def _decoder(depth: int, name: str) -> msgspec.json.Decoder[Any]:
    if depth == 2 and name in _OF_SITE:
        return _OF_SITE[name]
    if depth == 3 and name == "now":
        return _now
    if depth == 3 and name in _KINDS:
        return _batch
    raise ValueError("its topic is none of ours")


def _check(said: Said, levels: Sequence[str]) -> None:
    """Raises ValueError where a message contradicts its topic or itself."""
    if said.v != VERSION:
        raise ValueError(f"it is of version {said.v}, not {VERSION}")
    if said.site != levels[0]:
        raise ValueError(f"it speaks for the site {said.site!r}")
    if isinstance(said, Batch | Now) and (said.line or NO_LINE) != levels[1]:
        raise ValueError(f"it speaks of the line {said.line!r}")
    if isinstance(said, Batch):
        _check_rows(said, _KINDS[levels[2]])
    if isinstance(said, Gone) and any(not 0 < first <= last for first, last in said.spans):
        raise ValueError("it names a span of no numbers")


def _check_rows(batch: Batch, kind: str) -> None:
    if batch.kind != kind:
        raise ValueError(f"it holds rows of the kind {batch.kind!r}")
    numbers = [row.seq for row in batch.rows]
    if not numbers or numbers[0] < 1 or numbers != sorted(set(numbers)):
        raise ValueError("its rows are not in the order of their numbers")
    if (batch.first, batch.last) != (numbers[0], numbers[-1]):
        raise ValueError("its first and last number are not those of its rows")
