"""From the tables of a site file to the core's set-up and the wiring, in base units."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec

from analytics.samples import AnyEvent
from analytics.setup import HostLimits, Limits, LineSetup, Opening, SiteSetup
from firmware_bridge.config import rules, toml_file
from firmware_bridge.config.box_tables import NotifierTable
from firmware_bridge.config.dated import event_of
from firmware_bridge.config.draft import Draft, read_draft
from firmware_bridge.config.fault import Fault
from firmware_bridge.config.local_time import local_time
from firmware_bridge.config.media import capacity_kind_of
from firmware_bridge.config.readers import Place
from firmware_bridge.config.tables import LineTable, SiteTable
from firmware_bridge.config.wiring import (
    MeterWiring,
    NotifierWiring,
    SinkWiring,
    Site,
    Start,
    Wiring,
)
from firmware_bridge.notify.policy import Policy
from firmware_bridge.store.keeping import Keeping

WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def compile_site(path: Path, now: dt.datetime) -> Site | list[Fault]:
    """The site of a file, or all its faults."""
    data = toml_file.read_bytes(path)
    if isinstance(data, Fault):
        return [data]
    return compile_bytes(data, str(path), path.absolute().parent, now)


def compile_bytes(data: bytes, file: str, folder: Path, now: dt.datetime) -> Site | list[Fault]:
    """The site that the bytes of a file state; paths in it start from `folder`."""
    raw = toml_file.parse(data, file)
    if isinstance(raw, Fault):
        return [raw]
    faults: list[Fault] = []
    draft = read_draft(raw, Place(file=file, folder=folder), faults)
    faults.extend(rules.faults_of(draft))
    if faults or draft.site is None:
        return faults
    return Site(setup=_setup(draft, draft.site, now), wiring=_wiring(draft, draft.site))


def _setup(draft: Draft, site: SiteTable, now: dt.datetime) -> SiteSetup:
    return SiteSetup(
        site_id=site.id,
        name=site.name,
        what=site.what,
        service=site.service,
        time_zone=site.time_zone,
        local_time=local_time(site.time_zone, now),
        opening=_opening(site),
        lines=tuple(_line(found.table, _opening(site)) for found in draft.lines),
        host_limits=HostLimits(
            disk_free_mb=site.limits.disk_free_mb, sink_late_s=site.limits.sink_late_s
        ),
        dated=_events(draft),
    )


def _opening(site: SiteTable) -> Opening:
    return tuple(getattr(site.opening, day) for day in WEEK)


def _events(draft: Draft) -> tuple[AnyEvent, ...]:
    events = [event_of(f.word, f.table, f.table.line_id or draft.line_ids[0]) for f in draft.dated]
    return tuple(sorted(events, key=lambda event: event.at_ms))


def _line(line: LineTable, opening: Opening) -> LineSetup:
    """A line's cartridges taken together: twins hold twice what one holds."""
    count = rules.cartridges(line)
    side_by_side = count if line.arrangement == "parallel" else 1
    capacity = _capacity_mmol(line)
    return LineSetup(
        line_id=line.id,
        medium=line.medium,
        size=line.size or "",
        capacity_mmol=_times(capacity, count),
        capacity_kind=line.capacity_kind or capacity_kind_of(line.medium),
        capacity_relative_sd=line.capacity_relative_sd,
        rated_l=_times(line.rated_l, count) if capacity is None else None,
        time_limit_days=line.time_limit_days,
        carbon_l=_times(line.carbon_l, count),
        bypass=line.bypass,
        outlet_probe="outlet" in line.probes,
        inlet_probe="inlet" in line.probes,
        flow_meter=line.flow_meter,
        pulses_per_l=line.pulses_per_l,
        litres_a_day=line.litres_a_day,
        rated_flow_l_min=_times(line.rated_flow_l_min, side_by_side),
        end_share=line.end_share,
        machines=line.machines,
        opening=opening,
        limits=_limits(line),
    )


def _capacity_mmol(line: LineTable) -> float | None:
    """Capacity of one cartridge; from a life in litres at a stated hardness and bypass it is
    litres * hardness * (1 - bypass), the share that passes the bed."""
    if line.capacity_mmol is not None:
        return line.capacity_mmol
    if line.rated_l is None or line.rated_hardness_mmol_l is None:
        return None
    return line.rated_l * line.rated_hardness_mmol_l * (1.0 - (line.rated_bypass or 0.0))


def _limits(line: LineTable) -> Limits:
    return Limits(**msgspec.structs.asdict(line.limits))


def _times(value: float | None, count: int) -> float | None:
    return None if value is None else value * count


def _wiring(draft: Draft, site: SiteTable) -> Wiring:
    store = draft.store.path or str(draft.place.folder / f"{site.id}.sqlite")
    dated_starts = {f.table.line_id or draft.line_ids[0] for f in draft.dated if _fitted(f.word)}
    return Wiring(
        meters=tuple(
            MeterWiring(
                meter_id=f.table.id or f.table.driver,
                driver=f.table.driver,
                line_id=f.table.line or draft.line_ids[0],
                options=f.options,
            )
            for f in draft.meters
        ),
        sinks=tuple(
            SinkWiring(sink_id=f.table.id or f.table.kind, kind=f.table.kind, options=f.options)
            for f in draft.sinks
        ),
        notifiers=tuple(
            NotifierWiring(
                notifier_id=f.table.id or f.table.kind,
                kind=f.table.kind,
                policy=_policy(f.table),
                options=f.options,
            )
            for f in draft.notifiers
        ),
        starts=tuple(
            Start(line_id=f.table.id, litres_before=f.table.start_l)
            for f in draft.lines
            if f.table.id not in dated_starts
        ),
        page=draft.page,
        language=site.language,
        store_path=store,
        keeping=Keeping(
            limit_bytes=round(draft.store.limit_bytes),
            rows_days=draft.store.rows_days,
            minutes_days=draft.store.minutes_days,
            sinks=tuple(f.table.id or f.table.kind for f in draft.sinks),
        ),
    )


def _policy(table: NotifierTable) -> Policy:
    return Policy(
        least=table.least,
        quiet=table.quiet,
        again_s=table.again_s,
        escalate_s=table.escalate_s,
        cleared=table.cleared,
        digest_min=table.digest_min,
    )


def _fitted(word: str) -> bool:
    return word == "cartridge-fitted"
