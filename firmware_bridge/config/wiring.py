"""What a compiled site file holds: the core's set-up, and the wiring of meters, sinks, page, store.

Loads neither pint nor any driver: a driver's options are decoded when its name is met.
"""

from __future__ import annotations

import msgspec

from analytics.setup import SiteSetup
from firmware_bridge.config.box_tables import Page
from firmware_bridge.notify.policy import Policy
from firmware_bridge.store.keeping import Keeping

SITE_FILE = "site-file-"
"""What the ids of events begin with that came from a site file."""


class OwnFault(msgspec.Struct, frozen=True, kw_only=True):
    """What options know to be wrong among themselves: the key, what is wrong, the mend."""

    key: str
    problem: str
    mend: str = ""
    allowed: str = ""


class MeterOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What a driver needs to know; each driver has its own."""

    def own_faults(self) -> tuple[OwnFault, ...]:
        """What is wrong between keys that are each right by themselves."""
        return ()

    def beside(self, other: MeterOptions, *, same_line: bool) -> OwnFault | None:
        """What keeps this meter from sharing its port with another; None where nothing does."""
        return OwnFault(key="port", problem="is taken", mend="One meter a port.")

    def flow_spread(self) -> float | None:
        """Relative standard deviation of the litres this meter counts, as its class promises;
        None where it promises nothing."""
        return None


class SinkOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What a sink needs to know; each sink has its own."""


class NotifierOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What a way to tell people needs to know; each has its own."""


class MeterWiring(msgspec.Struct, frozen=True, kw_only=True):
    """One meter: which driver reads it, for which line, with which options."""

    meter_id: str
    driver: str
    line_id: str
    options: MeterOptions


class SinkWiring(msgspec.Struct, frozen=True, kw_only=True):
    """One receiver of the stream."""

    sink_id: str
    kind: str
    options: SinkOptions


class NotifierWiring(msgspec.Struct, frozen=True, kw_only=True):
    """One way to tell people about alarms, and what they wish to be told by it."""

    notifier_id: str
    kind: str
    policy: Policy
    options: NotifierOptions


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """How a line's cartridge stands when logging begins: litres behind it, None is unknown.

    Undated: the daemon turns it into an event at its first start, and not again.
    """

    line_id: str
    litres_before: float | None


class Wiring(msgspec.Struct, frozen=True, kw_only=True):
    """All that is joined to the site; `store_path` starts from the site file's folder."""

    meters: tuple[MeterWiring, ...] = ()
    sinks: tuple[SinkWiring, ...] = ()
    notifiers: tuple[NotifierWiring, ...] = ()
    starts: tuple[Start, ...] = ()
    page: Page = Page()
    language: str = "en"
    """In which people of the site are told things who have chosen no other."""
    store_path: str
    keeping: Keeping = Keeping()


class Site(msgspec.Struct, frozen=True, kw_only=True):
    """A site file, compiled."""

    setup: SiteSetup
    wiring: Wiring
