"""Which drivers, sinks and notifiers there are: one file adds one.

A file `meters/bench_probe.py` (or, for those that came with the first version,
`config/meter_options/bench_probe.py`) that defines `OPTIONS`, a struct derived from `MeterOptions`,
makes `driver = "bench-probe"` a known word.
Sinks likewise, from `SinkOptions`, in `forward/sinks/` or `config/sink_options/`, notifiers from
`NotifierOptions` in `notify/channels/`. Files are looked at, not imported, until their word is met:
a daemon loads no client library for a sink that it does not have.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal, TypeAlias

Family: TypeAlias = Literal["meter", "sink", "notifier"]

FOLDERS: dict[Family, tuple[str, ...]] = {
    "meter": ("firmware_bridge.config.meter_options", "firmware_bridge.meters"),
    "sink": ("firmware_bridge.config.sink_options", "firmware_bridge.forward.sinks"),
    "notifier": ("firmware_bridge.notify.channels",),
}
DEFINES = re.compile(r"^OPTIONS\b", re.MULTILINE)


def known(family: Family) -> tuple[str, ...]:
    """The words that may stand after `driver =` or `kind =`, sorted."""
    return tuple(_modules(family))


def options_of(family: Family, word: str) -> type[Any] | None:
    """The options struct of one driver or sink; None if there is none. Imports that file only."""
    module = _modules(family).get(word)
    if module is None:
        return None
    options: type[Any] = importlib.import_module(module).OPTIONS
    return options


@cache
def _modules(family: Family) -> dict[str, str]:
    """Each word and the module that defines its options; the first folder goes before."""
    found: dict[str, str] = {}
    for folder in FOLDERS[family]:
        for module in pkgutil.iter_modules(importlib.import_module(folder).__path__):
            name = f"{folder}.{module.name}"
            if _defines_options(name):
                found.setdefault(module.name.replace("_", "-"), name)
    return dict(sorted(found.items()))


def _defines_options(module: str) -> bool:
    spec = find_spec(module)
    if spec is None or spec.origin is None:
        return False
    return DEFINES.search(Path(spec.origin).read_text(encoding="utf-8")) is not None
