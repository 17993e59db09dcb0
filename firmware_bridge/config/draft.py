"""The whole file, table by table, before the tables are held against each other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any, Generic, TypeVar

import msgspec

from firmware_bridge.config import registry
from firmware_bridge.config.box_tables import MeterTable, NotifierTable, Page, SinkTable, Store
from firmware_bridge.config.dated import DATED, DatedEntry
from firmware_bridge.config.fault import Fault, nearest
from firmware_bridge.config.local_time import zone_of
from firmware_bridge.config.readers import Place
from firmware_bridge.config.reading import MISSING, fault, fields_of, read_table
from firmware_bridge.config.tables import LineTable, SiteTable

T = TypeVar("T")
TABLES = ("site", "line", "meter", "sink", "notifier", "page", "store", "dated")


class Found(msgspec.Struct, Generic[T], frozen=True, kw_only=True):
    """One table of several, where it stands, what stood there, and the word that chose its form."""

    place: Place
    raw: dict[str, Any]
    table: T
    word: str = ""
    options: Any = None


class Draft(msgspec.Struct, frozen=True, kw_only=True):
    """All tables that could be read. A table with a fault is left out."""

    place: Place
    site: SiteTable | None
    lines: tuple[Found[LineTable], ...]
    line_ids: tuple[str, ...]
    """Ids of all lines, also of those with faults, so that one fault does not breed others."""
    meters: tuple[Found[MeterTable], ...]
    sinks: tuple[Found[SinkTable], ...]
    notifiers: tuple[Found[NotifierTable], ...]
    dated: tuple[Found[DatedEntry], ...]
    page: Page
    store: Store


def read_draft(raw: dict[str, Any], place: Place, faults: list[Fault]) -> Draft:
    """Every table of the file; faults are added to `faults`."""
    _refuse_strange_tables(raw, place, faults)
    site_place = place.at("site")
    if "site" not in raw:
        mend = 'Add [site] with id = "..." and name = "...".'
        faults.append(fault(site_place, "", MISSING, "this table is missing", mend=mend))
    site = read_table(SiteTable, raw["site"], site_place, faults) if "site" in raw else None
    place = msgspec.structs.replace(place, zone=_zone(raw, site))
    return Draft(
        place=place,
        site=site,
        lines=tuple(_lines(raw, place, faults)),
        line_ids=tuple(str(t.get("id", "")) for _, t in _each(raw, "line", place, [])),
        meters=tuple(_parts("meter", "driver", MeterTable, raw, place, faults)),
        sinks=tuple(_parts("sink", "kind", SinkTable, raw, place, faults)),
        notifiers=tuple(_parts("notifier", "kind", NotifierTable, raw, place, faults)),
        dated=tuple(_dated(raw, place, faults)),
        page=read_table(Page, raw.get("page", {}), place.at("page"), faults) or Page(),
        store=read_table(Store, raw.get("store", {}), place.at("store"), faults) or Store(),
    )


def _refuse_strange_tables(raw: dict[str, Any], place: Place, faults: list[Fault]) -> None:
    for key, value in raw.items():
        if key in TABLES:
            continue
        is_table = isinstance(value, dict | list)
        problem = "no such table" if is_table else "a key outside any table"
        near = nearest(key, TABLES)
        faults.append(
            fault(place, key, MISSING if is_table else value, problem,
                  allowed=", ".join(TABLES), mend=near)
        )  # fmt: skip


def _zone(raw: dict[str, Any], site: SiteTable | None) -> dt.tzinfo:
    """The site's zone, UTC while it is not known; the fault itself is reported with [site]."""
    return zone_of(site.time_zone) if site is not None else dt.UTC


def _each(
    raw: dict[str, Any], heading: str, place: Place, faults: list[Fault]
) -> Iterator[tuple[Place, dict[str, Any]]]:
    """The tables under one heading, each with its place."""
    many = raw.get(heading, [])
    if not isinstance(many, list):
        mend = f"Write the heading as [[{heading}]]."
        faults.append(
            fault(place.at(heading), "", MISSING, "there may be several of these", mend=mend)
        )
        return
    for number, table in enumerate(many, start=1):
        here = place.at(heading, _which(table, number))
        if isinstance(table, dict):
            yield here, table
        else:
            faults.append(fault(here, "", table, "not a table", mend=f"Write [[{heading}]]."))


def _which(table: Any, number: int) -> str:
    name = table.get("id") if isinstance(table, dict) else None
    usable = isinstance(name, str) and 0 < len(name) <= 63 and name.isprintable()
    return str(name) if usable else str(number)


def _lines(raw: dict[str, Any], place: Place, faults: list[Fault]) -> Iterator[Found[LineTable]]:
    if not raw.get("line"):
        mend = 'Add [[line]] with id = "bar", medium and capacity.'
        faults.append(fault(place.at("line", "1"), "", MISSING, "no line is stated", mend=mend))
    for here, table in _each(raw, "line", place, faults):
        read = read_table(LineTable, table, here, faults)
        if read is not None:
            yield Found(place=here, raw=table, table=read)


def _parts(
    family: registry.Family,
    key: str,
    header: type[msgspec.Struct],
    raw: dict[str, Any],
    place: Place,
    faults: list[Fault],
) -> Iterator[Found[Any]]:
    """Meters or sinks: the word under `key` says which options a table has besides `header`."""
    for here, table in _each(raw, family, place, faults):
        options = _options(family, key, table, here, faults)
        if options is None:
            continue
        found = _with_options(header, options, table, here, faults)
        if found is not None:
            yield found


def _dated(raw: dict[str, Any], place: Place, faults: list[Fault]) -> Iterator[Found[DatedEntry]]:
    for here, table in _each(raw, "dated", place, faults):
        word = _word("kind", table, tuple(DATED), here, faults)
        if word is None:
            continue
        named = msgspec.structs.replace(here, which=f"{here.which} ({word})")
        entry = read_table(DATED[word][0], table, named, faults, also=("kind",))
        if entry is not None:
            yield Found(place=named, raw=table, table=entry, word=word)


def _word(
    key: str, table: dict[str, Any], words: tuple[str, ...], place: Place, faults: list[Fault]
) -> str | None:
    """The word that chooses the table's form, if it is one of those known."""
    value = table.get(key, MISSING)
    if isinstance(value, str) and value in words:
        return value
    problem = "missing" if value is MISSING else "not one of the words known"
    near = nearest(value, words) if isinstance(value, str) else ""
    faults.append(fault(place, key, value, problem, allowed=", ".join(words), mend=near))
    return None


def _options(
    family: registry.Family, key: str, table: dict[str, Any], place: Place, faults: list[Fault]
) -> type[Any] | None:
    word = _word(key, table, registry.known(family), place, faults)
    return registry.options_of(family, word) if word is not None else None


def _with_options(
    header: type[msgspec.Struct],
    options: type[msgspec.Struct],
    table: dict[str, Any],
    place: Place,
    faults: list[Fault],
) -> Found[Any] | None:
    """A table whose keys are the header's and the options' together."""
    keys = [f.key for f in fields_of(header)]
    read_options = read_table(options, table, place, faults, also=tuple(keys))
    mine = {key: value for key, value in table.items() if key in keys}
    read = read_table(header, mine, place, faults)
    if read is None or read_options is None:
        return None
    return Found(place=place, raw=table, table=read, options=read_options)
