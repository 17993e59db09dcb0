"""Which drivers and sinks there are: one file adds one.

A file `meters/bench_probe.py` (or, for those that came with the first version,
`config/meter_options/bench_probe.py`) that defines `OPTIONS`, a struct derived from `MeterOptions`,
makes `driver = "bench-probe"` a known word. Sinks likewise, from `SinkOptions`.
"""

from __future__ import annotations

import importlib
import pkgutil
from typing import Any, Literal, TypeAlias

Family: TypeAlias = Literal["meter", "sink"]

FOLDERS: dict[Family, tuple[str, ...]] = {
    "meter": ("firmware_bridge.meters", "firmware_bridge.config.meter_options"),
    "sink": ("firmware_bridge.forward", "firmware_bridge.config.sink_options"),
}


def known(family: Family) -> tuple[str, ...]:
    """The words that may stand after `driver =` or `kind =`, sorted. Imports every file of the
    family."""
    names = {
        module.name
        for folder in FOLDERS[family]
        for module in pkgutil.iter_modules(importlib.import_module(folder).__path__)
        if not module.name.startswith("_")
        and hasattr(importlib.import_module(f"{folder}.{module.name}"), "OPTIONS")
    }
    return tuple(sorted(name.replace("_", "-") for name in names))


def options_of(family: Family, word: str) -> type[Any] | None:
    """The options struct of one driver or sink; None if there is none. Imports that file only."""
    name = word.replace("-", "_")
    for folder in FOLDERS[family]:
        present = {m.name for m in pkgutil.iter_modules(importlib.import_module(folder).__path__)}
        if name.startswith("_") or name not in present or name == word != word.replace("_", "-"):
            continue
        found: type[Any] | None = getattr(
            importlib.import_module(f"{folder}.{name}"), "OPTIONS", None
        )
        if found is not None:
            return found
    return None
