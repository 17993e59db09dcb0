"""What a language is to those who tell a person something, and which ones there are."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from functools import cache

import msgspec

from dashboards import phrases
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

FALLBACK = "en"
"""The language whose texts say which texts there are."""


class Language(msgspec.Struct, frozen=True, kw_only=True):
    """One language: its texts by key, its numbers, its calendar."""

    code: str
    name: str
    """What it calls itself."""
    texts: dict[str, str]
    numbers: NumberForm
    calendar: Calendar
    small_numbers: tuple[str, ...]
    """Words for 0 to 12, as they stand before a noun of many (or after none)."""
    singular: tuple[int, ...] = (1,)
    """The whole numbers that take a noun of one."""

    def counted(self, number: int) -> str:
        """The ending of the key of a text about so many things: "one" or "many"."""
        return "one" if number in self.singular else "many"


def gathered(package: str, paths: Iterable[str]) -> dict[str, str]:
    """All texts of a language's folder: every file of it defines `TEXTS`.

    Raises ValueError where two files have a text of the same key.
    """
    texts: dict[str, str] = {}
    for module in sorted(pkgutil.iter_modules(paths), key=lambda module: module.name):
        more: dict[str, str] = importlib.import_module(f"{package}.{module.name}").TEXTS
        if twice := texts.keys() & more.keys():
            raise ValueError(f"{package}.{module.name}: these texts are there twice: {twice}.")
        texts |= more
    return texts


@cache
def codes() -> tuple[str, ...]:
    """The languages there are, by code: every folder beside this file is one."""
    return tuple(sorted(m.name for m in pkgutil.iter_modules(phrases.__path__) if m.ispkg))


@cache
def language(code: str) -> Language:
    """One language; only its own folder is loaded."""
    found: Language = importlib.import_module(f"dashboards.phrases.{code}").LANGUAGE
    return found


@cache
def languages() -> dict[str, Language]:
    """Every language by its code."""
    return {code: language(code) for code in codes()}


@cache
def names() -> tuple[tuple[str, str], ...]:
    """Each language's code with what it calls itself."""
    return tuple((code, found.name) for code, found in languages().items())


def chosen(wanted: Iterable[str], usual: str) -> str:
    """The first of the wanted languages there is ("de-AT" is served by "de"), else the usual."""
    there = codes()
    mains = (code.split("-")[0].strip().lower() for code in wanted)
    return next((code for code in mains if code in there), usual)
