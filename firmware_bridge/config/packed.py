"""A compiled site out of its bytes; a driver's options are decoded by that driver's own struct."""

from __future__ import annotations

from typing import Any

import msgspec

from analytics.setup import SiteSetup
from firmware_bridge.config import registry
from firmware_bridge.config.box_tables import Page
from firmware_bridge.config.fault import Fault
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


class _Meter(msgspec.Struct):
    meter_id: str
    driver: str
    line_id: str
    options: msgspec.Raw


class _Sink(msgspec.Struct):
    sink_id: str
    kind: str
    options: msgspec.Raw


class _Notifier(msgspec.Struct):
    notifier_id: str
    kind: str
    policy: Policy
    options: msgspec.Raw


class _Wiring(msgspec.Struct):
    meters: tuple[_Meter, ...]
    sinks: tuple[_Sink, ...]
    notifiers: tuple[_Notifier, ...]
    starts: tuple[Start, ...]
    page: Page
    language: str
    store_path: str
    keeping: Keeping


class _Site(msgspec.Struct):
    setup: SiteSetup
    wiring: _Wiring


class _Answer(msgspec.Struct):
    site: _Site | None = None
    faults: tuple[Fault, ...] = ()


def unpack(data: bytes) -> Site | tuple[Fault, ...]:
    """The site, or the faults, in a compiler's answer.

    Raises msgspec.MsgspecError where the bytes are no such answer.
    """
    answer = msgspec.msgpack.decode(data, type=_Answer)
    if answer.site is None:
        return answer.faults
    wiring = answer.site.wiring
    return Site(
        setup=answer.site.setup,
        wiring=Wiring(
            meters=tuple(
                MeterWiring(
                    meter_id=m.meter_id,
                    driver=m.driver,
                    line_id=m.line_id,
                    options=_options("meter", m.driver, m.options),
                )
                for m in wiring.meters
            ),
            sinks=tuple(
                SinkWiring(
                    sink_id=s.sink_id, kind=s.kind, options=_options("sink", s.kind, s.options)
                )
                for s in wiring.sinks
            ),
            notifiers=tuple(
                NotifierWiring(
                    notifier_id=n.notifier_id,
                    kind=n.kind,
                    policy=n.policy,
                    options=_options("notifier", n.kind, n.options),
                )
                for n in wiring.notifiers
            ),
            starts=wiring.starts,
            page=wiring.page,
            language=wiring.language,
            store_path=wiring.store_path,
            keeping=wiring.keeping,
        ),
    )


def _options(family: registry.Family, word: str, raw: msgspec.Raw) -> Any:
    kind = registry.options_of(family, word)
    if kind is None:
        raise msgspec.ValidationError(f"no {family} {word}")
    return msgspec.msgpack.decode(raw, type=kind)
