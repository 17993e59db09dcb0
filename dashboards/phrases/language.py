"""What a language is to the pages, and which ones there are."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

import msgspec

from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar


class Language(msgspec.Struct, frozen=True, kw_only=True):
    """One language: its texts by key, its numbers, its calendar."""

    code: str
    texts: dict[str, str]
    numbers: NumberForm
    calendar: Calendar
    small_numbers: tuple[str, ...]
    """Words for 0 to 12."""


@cache
def languages() -> dict[str, Language]:
    """Every language of this folder by its code: a file with a `Language` in it adds one."""
    package = importlib.import_module("dashboards.phrases")
    found: dict[str, Language] = {}
    for module in pkgutil.iter_modules(package.__path__):
        for value in vars(importlib.import_module(f"dashboards.phrases.{module.name}")).values():
            if isinstance(value, Language):
                found[value.code] = value
    return found
