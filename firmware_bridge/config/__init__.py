"""The site file: read once, every fault named, compiled to base units.

    load(path)           -> Site: `setup` for the core, `wiring` for meters, sinks, page, store
    check(path)          -> every fault of a file
    sample_text()        -> a commented sample, from the same definitions
    from_notes(path)     -> a site file from an installer's notes
    settled(options, wanted) -> a sink's options with the secrets they name put in
    redact(text)         -> the text without secrets

This is the only reader of TOML and of the environment. pint loads in `check` (which
ends soon) and in the child of `load`, never in the process that calls `load`.
"""

from __future__ import annotations

from pathlib import Path

from firmware_bridge.config.fault import Fault, redact
from firmware_bridge.config.loading import load
from firmware_bridge.config.secret import secret_of, settled
from firmware_bridge.config.wiring import (
    MeterOptions,
    MeterWiring,
    SinkOptions,
    SinkWiring,
    Site,
    Start,
    Wiring,
)


def check(path: Path | str) -> list[Fault]:
    """Every fault of a site file; an empty list if it has none."""
    import datetime as dt

    from firmware_bridge.config.build import compile_site

    found = compile_site(Path(path), dt.datetime.now(dt.UTC))
    return found if isinstance(found, list) else []


def sample_text() -> str:
    """A commented sample of a site file, without a fault."""
    from firmware_bridge.config import sample

    return sample.sample_text()


def from_notes(path: Path | str) -> str:
    """The site file that an installer's notes amount to. Raises ConfigError."""
    from firmware_bridge.config import notes

    return notes.from_notes(path)


__all__ = [
    "Fault",
    "MeterOptions",
    "MeterWiring",
    "SinkOptions",
    "SinkWiring",
    "Site",
    "Start",
    "Wiring",
    "check",
    "from_notes",
    "load",
    "redact",
    "sample_text",
    "secret_of",
    "settled",
]
