"""The commented sample of a site file, written from the same definitions that read one."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import msgspec

from firmware_bridge.config import kinds, registry
from firmware_bridge.config.box_tables import MeterTable, NotifierTable, Page, SinkTable, Store
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.reading import Field, fields_of, table_within
from firmware_bridge.config.tables import LineTable, SiteTable

WIDTH = 96
OPENING = """
A site file. Lines with ## explain; lines with # are switched off and show the default, or an
example where there is none. Every value that has a unit is text with that unit. What has a date
stands under [[dated]] and is taken into the site's record once.
"""


def sample_text() -> str:
    """A site file that has no fault, with every table and key there is."""
    parts = [
        *explained(OPENING),
        "##",
        *_units(),
        "",
        *block("[site]", SiteTable),
        *block("[[line]]", LineTable),
        *_meters(),
        *block("[page]", Page, off=True),
        *block("[store]", Store, off=True),
        *_sinks(),
        *_notifiers(),
        *_dated(),
    ]
    return "\n".join(parts).rstrip() + "\n"


def block(
    heading: str,
    table: type[msgspec.Struct],
    *more: type[msgspec.Struct],
    off: bool = False,
    word: tuple[str, str] | None = None,
    says: str = "",
) -> Iterator[str]:
    """One table: its heading, each key with its explanation, a blank line, then tables within.

    `more` are structs whose keys stand in the same table; `off` switches every line off; `word` is
    the key that chose the table's form, with its value; `says` stands above instead of the struct's
    own words.
    """
    yield from explained(says or (more[0] if more else table).__doc__ or "")
    yield f"# {heading}" if off else heading
    if word is not None:
        yield f"# {word[0]} = {word[1]}" if off else f"{word[0]} = {word[1]}"
    fields = [f for struct in (table, *more) for f in fields_of(struct)]
    inner = [f for f in fields if table_within(f.type) is not None]
    for field in fields:
        if field not in inner and (word is None or field.key != word[0]):
            yield from _entry(field, off)
    yield ""
    for field in inner:
        within = f"[{heading.strip('[]')}.{field.key}]"
        inside = table_within(field.type)
        if inside is not None:
            yield from block(within, inside, off=True, says=field.description)


def _entry(field: Field, off: bool) -> Iterator[str]:
    offer = f" One of: {', '.join(field.words)}." if field.words else ""
    if field.description or offer:
        yield from explained((field.description + offer).strip())
    entry = f"{field.key} = {field.example}"
    yield entry if field.live and not off else f"# {entry}"


def explained(words: str) -> Iterator[str]:
    """Words as comment lines."""
    for line in textwrap.wrap(" ".join(words.split()), WIDTH - 3, break_long_words=False):
        yield f"## {line}"


def _units() -> Iterator[str]:
    seen: set[str] = set()
    for kind in kinds.ALL_KINDS:
        if kind.name not in seen:
            yield from explained(f"{kind.name}: {', '.join(kind.written)}")
        seen.add(kind.name)


def _meters() -> Iterator[str]:
    for word in registry.known("meter"):
        options = registry.options_of("meter", word)
        if options is not None:
            live = word == "node-serial"
            yield from block("[[meter]]", MeterTable, options, off=not live,
                             word=("driver", f'"{word}"'))  # fmt: skip


def _sinks() -> Iterator[str]:
    for word in registry.known("sink"):
        options = registry.options_of("sink", word)
        if options is not None:
            yield from block("[[sink]]", SinkTable, options, off=True,
                             word=("kind", f'"{word}"'))  # fmt: skip


def _notifiers() -> Iterator[str]:
    for word in registry.known("notifier"):
        options = registry.options_of("notifier", word)
        if options is not None:
            yield from block("[[notifier]]", NotifierTable, options, off=True,
                             word=("kind", f'"{word}"'))  # fmt: skip


def _dated() -> Iterator[str]:
    for word, (entry, _) in DATED.items():
        yield from block("[[dated]]", entry, off=True, word=("kind", f'"{word}"'))
