"""What no single value shows: tables of a site file held against each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from firmware_bridge.config.box_tables import MeterTable
from firmware_bridge.config.dated import (
    ClosureEntry,
    CommissioningEntry,
    CrossZeroEntry,
    DropTestEntry,
    NoteEntry,
    UtilityReportEntry,
)
from firmware_bridge.config.draft import Draft, Found
from firmware_bridge.config.fault import Fault, nearest
from firmware_bridge.config.media import takes_up_hardness
from firmware_bridge.config.readers import Place
from firmware_bridge.config.reading import MISSING, fault
from firmware_bridge.config.tables import LineTable


def faults_of(draft: Draft) -> list[Fault]:
    """Every fault between tables."""
    found: list[Fault] = []
    for rule in RULES:
        found.extend(rule(draft))
    return found


def cartridges(line: LineTable) -> int:
    """How many cartridges the line holds at a time."""
    if line.cartridges is not None:
        return line.cartridges
    return 1 if line.arrangement == "single" else 2


def _at(found: Found[Any], key: str, problem: str, mend: str = "", allowed: str = "") -> Fault:
    value: Any = found.raw
    for part in key.split("."):
        value = value.get(part, MISSING) if isinstance(value, dict) else MISSING
    return fault(found.place, key, value, problem, allowed=allowed, mend=mend)


def _ids_once(draft: Draft) -> Iterator[Fault]:
    named = (
        [(f, "id", f.table.id) for f in draft.lines],
        [(f, "id", f.table.id or f.table.driver) for f in draft.meters],
        [(f, "id", f.table.id or f.table.kind) for f in draft.sinks],
        [(f, "id", f.table.id or f.table.kind) for f in draft.notifiers],
    )
    for tables in named:
        seen: set[str] = set()
        for found, key, name in tables:
            if name in seen:
                yield _at(found, key, f'"{name}" stands twice', "Give each its own id.")
            seen.add(name)


def _lines_known(draft: Draft) -> Iterator[Fault]:
    stated = [(f, f.table.line or "") for f in draft.meters]
    stated += [(f, f.table.line_id) for f in draft.dated]  # type: ignore[misc]
    for found, line in stated:
        if line and line not in draft.line_ids:
            allowed = ", ".join(draft.line_ids)
            yield _at(found, "line", "no such line", nearest(line, draft.line_ids), allowed)
        elif not line and len(draft.line_ids) > 1:
            mend = "This site has several lines: say which."
            yield _at(found, "line", "missing", mend, ", ".join(draft.line_ids))


def _capacity_stated(draft: Draft) -> Iterator[Fault]:
    for found in draft.lines:
        line = found.table
        if line.capacity_mmol is not None and line.rated_l is not None:
            yield _at(found, "rated_life", "capacity is stated too", "Keep one of the two.")
        if line.capacity_mmol is not None and not takes_up_hardness(line.medium):
            mend = "Take capacity away; state rated_life, carbon or time_limit."
            yield _at(found, "capacity", f"{line.medium} takes up no hardness", mend)
        if not _has_an_end(line):
            mend = 'Add capacity = "3600 dH*L", or rated_life = "1200 L", or time_limit.'
            yield _at(found, "capacity", "nothing says when this cartridge ends", mend)


def _has_an_end(line: LineTable) -> bool:
    ends = (line.capacity_mmol, line.rated_l, line.time_limit_days, line.carbon_l)
    return any(end is not None for end in ends)


def _rating_whole(draft: Draft) -> Iterator[Fault]:
    for found in draft.lines:
        line = found.table
        if line.rated_hardness_mmol_l is not None and line.rated_l is None:
            mend = 'Add rated_life = "1200 L", or take it away.'
            yield _at(found, "rated_hardness", "there is no rated_life that it belongs to", mend)
        if line.rated_bypass is not None and line.rated_hardness_mmol_l is None:
            mend = 'Add rated_hardness = "10 dH", or take it away.'
            yield _at(found, "rated_bypass", "there is no rated_hardness that it belongs to", mend)


def _cartridges_agree(draft: Draft) -> Iterator[Fault]:
    for found in draft.lines:
        count, single = cartridges(found.table), found.table.arrangement == "single"
        if single != (count == 1):
            mend = "Say how several stand: parallel or series." if single else "Say how many."
            problem = f"does not fit arrangement {found.table.arrangement}"
            yield _at(found, "cartridges", problem, mend)


def _probes_once(draft: Draft) -> Iterator[Fault]:
    for found in draft.lines:
        if len(set(found.table.probes)) != len(found.table.probes):
            yield _at(found, "probes", "a probe stands twice", "Name each once.")


def _start_said_once(draft: Draft) -> Iterator[Fault]:
    only = draft.line_ids[0] if len(draft.line_ids) == 1 else ""
    fitted = {f.table.line_id or only for f in draft.dated if f.word == "cartridge-fitted"}
    for found in draft.lines:
        if "start" in found.raw and found.table.id in fitted:
            mend = "Keep the dated entry, take start away."
            yield _at(found, "start", "a dated cartridge-fitted entry says this already", mend)


def _ports_once(draft: Draft) -> Iterator[Fault]:
    """Meters that can share a port may; whoever cannot has one of its own."""
    seen: dict[str, list[Found[MeterTable]]] = {}
    for found in draft.meters:
        port = getattr(found.options, "port", None)
        if not isinstance(port, str):
            continue
        for first in seen.setdefault(port, []):
            same = found.table.line == first.table.line
            hindrance = found.options.beside(first.options, same_line=same)
            if hindrance is not None:
                said = f"meter {first.place.which} is on this port: {hindrance.problem}"
                yield _at(found, hindrance.key, said, hindrance.mend)
        seen[port].append(found)


def _secrets_one_way(draft: Draft) -> Iterator[Fault]:
    named: tuple[Found[Any], ...] = (*draft.sinks, *draft.notifiers)
    for found in named:
        yield from secrets_one_way(found.options, found.raw, found.place)


def secrets_one_way(options: object, raw: Mapping[str, Any], place: Place) -> Iterator[Fault]:
    """A secret is named once, and not sent over a line that has no use for its certificate."""
    for name in ("token", "user", "password", "secret"):
        if all(getattr(options, f"{name}_{way}", None) for way in ("env", "file")):
            mend = f"Keep {name}_env or {name}_file."
            key, problem = f"{name}_file", f"{name}_env is stated too"
            yield fault(place, key, raw.get(key, MISSING), problem, mend=mend)
    if getattr(options, "user", None) and getattr(options, "user_env", None):
        stated = raw.get("user_env", MISSING)
        yield fault(place, "user_env", stated, "user is stated too", mend="Keep one of the two.")
    plain = str(getattr(options, "url", "")).startswith("http:")
    if getattr(options, "ca_file", None) and (plain or not getattr(options, "tls", True)):
        mend = "Use an https address." if plain else "Add tls = true."
        stated = raw.get("ca_file", MISSING)
        yield fault(place, "ca_file", stated, "the line is not encrypted", mend=mend)


def _meters_whole(draft: Draft) -> Iterator[Fault]:
    for found in draft.meters:
        for own in found.options.own_faults():
            yield _at(found, own.key, own.problem, own.mend, own.allowed)


def _dated_whole(draft: Draft) -> Iterator[Fault]:
    for found in draft.dated:
        entry = found.table
        if isinstance(entry, ClosureEntry | CommissioningEntry) and entry.until_ms <= entry.at_ms:
            yield _at(found, "until", "ends before it begins", "Put until after at.")
        if isinstance(entry, CrossZeroEntry) and (
            (entry.inlet_us_cm is None) != (entry.inlet_temp_c is None)
        ):
            mend = "State inlet and inlet_temperature together, or neither."
            yield _at(found, "inlet", "only half of the inlet's reading", mend)
        if isinstance(entry, NoteEntry) and not entry.note:
            yield _at(found, "note", "nothing is noted", 'Add note = "...".')
        if isinstance(entry, DropTestEntry | UtilityReportEntry) and not _says_something(entry):
            mend = 'Add hardness = "12 dH", alkalinity or calcium.'
            yield _at(found, "hardness", "no value is stated", mend)


def _page_whole(draft: Draft) -> Iterator[Fault]:
    page, place = draft.page, draft.place.at("page")
    if (page.tls_cert is None) != (page.tls_key is None):
        key = "tls_key" if page.tls_key is None else "tls_cert"
        mend = "State tls_cert and tls_key together, or neither."
        yield fault(place, key, MISSING, "only half of what https needs", mend=mend)


def _says_something(entry: DropTestEntry | UtilityReportEntry) -> bool:
    names = ("hardness_mmol_l", "alkalinity_meq_l", "calcium_mmol_l", "magnesium_mmol_l",
             "ec25_us_cm")  # fmt: skip
    return any(getattr(entry, name, None) is not None for name in names)


RULES = (
    _ids_once,
    _lines_known,
    _capacity_stated,
    _rating_whole,
    _cartridges_agree,
    _probes_once,
    _start_said_once,
    _ports_once,
    _meters_whole,
    _secrets_one_way,
    _dated_whole,
    _page_whole,
)
