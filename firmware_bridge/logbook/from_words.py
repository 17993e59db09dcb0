"""An act out of the words of a command line, by the same keys and units as in a site file."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import Any

import msgspec

from analytics.errors import ConfigError
from analytics.samples import AnyEvent
from analytics.setup import SiteSetup
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.fault import Fault, nearest
from firmware_bridge.config.local_time import zone_of
from firmware_bridge.config.readers import Place
from firmware_bridge.config.reading import fields_of, read_table

HERE = "what was typed"
DATES = ("at", "until")


def act_from(site: SiteSetup, kind: str, words: Sequence[str], now_ms: int) -> AnyEvent:
    """The act that `kind` and words such as `hardness="9 dH"` amount to.

    Without `at` it happened now, without `line` on the only line there is. Raises ConfigError with
    every fault.
    """
    if kind not in DATED:
        known = ", ".join(DATED)
        raise ConfigError([f"There is no act {kind!r}. {nearest(kind, DATED)}".strip()], known)
    table, event = DATED[kind]
    raw = _raw(words, kind)
    now = "at" not in raw
    if now:
        raw["at"] = tomllib.loads("x = 2000-01-01T00:00:00Z")["x"]
    place = Place(file=HERE, heading=kind, zone=zone_of(site.time_zone))
    faults: list[Fault] = []
    entry = read_table(table, raw, place, faults)
    if faults or entry is None:
        raise ConfigError([str(fault) for fault in faults], f"Try: lastlitre note --keys {kind}")
    stated: dict[str, Any] = msgspec.structs.asdict(entry)
    only = site.lines[0].line_id if len(site.lines) == 1 else ""
    stated |= {"line_id": stated["line_id"] or only}
    if now:
        stated["at_ms"] = now_ms
    act: AnyEvent = event(**stated)
    return act


def keys_of(kind: str) -> list[str]:
    """Every key of an act with an example and what it means."""
    return [f"{f.key}={f.example or '...'}   {f.description}" for f in fields_of(DATED[kind][0])]


def _raw(words: Sequence[str], kind: str) -> dict[str, Any]:
    raw: dict[str, Any] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals or key in raw:
            problem = f"{word[:60]!r} is not key=value" if not equals else f"{key} stands twice"
            raise ConfigError([f"{problem}."], f"Try: lastlitre note --keys {kind}")
        raw[key] = _value(key, value)
    return raw


def _value(key: str, text: str) -> Any:
    """A date or a bare number as TOML has it; anything else is text."""
    try:
        value = tomllib.loads(f"x = {text}")["x"]
    except (tomllib.TOMLDecodeError, RecursionError):
        return text
    return value if key in DATES or isinstance(value, int | float) else text.strip('"')
