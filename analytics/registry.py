"""One file adds a thing: walk a folder of modules and take what each one defines."""

from __future__ import annotations

import importlib
import pkgutil
from typing import TypeVar

T = TypeVar("T")


def discover(package: str, attribute: str, kind: type[T]) -> dict[str, T]:
    """What every module of `package` calls `attribute`, by its `name`, in order of names.

    Modules whose name begins with an underscore are helpers and are passed over. Raises TypeError
    where a module lacks the attribute or has another kind of thing, ValueError where two share a
    name.
    """
    found: dict[str, T] = {}
    for module in pkgutil.iter_modules(importlib.import_module(package).__path__):
        if module.name.startswith("_") or module.ispkg:
            continue
        thing = getattr(importlib.import_module(f"{package}.{module.name}"), attribute, None)
        if not isinstance(thing, kind):
            raise TypeError(f"{package}.{module.name} must define {attribute}, a {kind.__name__}")
        name = str(thing.name)  # type: ignore[attr-defined]
        if name in found:
            raise ValueError(f"{package}: two files call themselves {name!r}")
        found[name] = thing
    return dict(sorted(found.items()))
