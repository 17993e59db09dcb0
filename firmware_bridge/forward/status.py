"""How a sink is doing, and how often and how long its runner waits."""

from __future__ import annotations

import random
from enum import StrEnum

import msgspec


class Pace(msgspec.Struct, frozen=True, kw_only=True):
    """How often and how long, in seconds."""

    poll_s: float = 1.0
    busy_s: float = 0.02
    """Between looks while the far side has to catch up before more is sent."""
    linger_s: float = 5.0
    """How long readings may wait for others to share a message with."""
    now_every_s: float = 10.0
    first_wait_s: float = 1.0
    longest_wait_s: float = 60.0
    mend_wait_s: float = 300.0
    """Between tries when a person has to mend something first."""
    unconfirmed_s: float = 120.0
    """How long rows may be on their way before it is told that nobody confirms them."""
    stop_s: float = 5.0
    """How long a stop may take to deliver what is left."""
    last_word_s: float = 2.0
    """How long a stop waits for the last confirmation."""


class Condition(StrEnum):
    """How a sink is doing."""

    STARTING = "starting"
    FLOWING = "flowing"
    UNCONFIRMED = "unconfirmed"  # rows go out, and nobody says that they are safe
    AWAY = "away"  # no answer: tried again by itself
    REFUSED = "refused"  # a person has to mend something
    STOPPED = "stopped"


class SinkStatus(msgspec.Struct, frozen=True, kw_only=True):
    """What there is to show of a sink; counts are since the start.

    `sent` counts rows handed to the sink, tries included; `accepted` and `rejected` rows taken or
    refused the first time; `repeated` rows taken once more; `confirmed` rows that the far side has
    for good; `retries` failed tries. `backlog` are rows of the store not yet confirmed, of which
    `under_way` were sent; `waits_since_ms` is the instant of the oldest of them. `shown_up_to_ms`
    is the time of the newest row accepted. `unreadable` counts words of the far side that made no
    sense. `trouble` and `hint` are empty while rows flow; `last_trouble` is what was wrong last,
    `last_trouble_ms` when, `worked_ms` when something last got through.
    """

    name: str
    condition: Condition = Condition.STARTING
    sent: int = 0
    accepted: int = 0
    rejected: int = 0
    repeated: int = 0
    confirmed: int = 0
    retries: int = 0
    backlog: int = 0
    under_way: int = 0
    cursor: int = 0
    waits_since_ms: int | None = None
    shown_up_to_ms: int | None = None
    unreadable: int = 0
    trouble: str = ""
    hint: str = ""
    last_trouble: str = ""
    last_trouble_ms: int | None = None
    worked_ms: int | None = None


def wait_s(tries: int, pace: Pace, rng: random.Random) -> float:
    """Seconds before the next try: doubling from `first_wait_s`, capped, then 50 to 100 % of it."""
    longest = min(pace.longest_wait_s, pace.first_wait_s * 2.0 ** min(tries - 1, 30))
    return longest * rng.uniform(0.5, 1.0)
