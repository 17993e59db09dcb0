"""The demonstration: the café Harbour Steps, a cartridge that lives and dies within minutes.

Virtual meters go through the real path: frames over a pseudo-terminal, driver, pipeline, store,
page, all on one virtual clock. What the installer wrote down comes from the virtual water, read
with a drop kit's whole drops; the true bypass, capacity and K-factor differ from what is stated.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from datetime import UTC, datetime
from pathlib import Path

from analytics.chemistry.water import water
from analytics.quantities import DH_MMOL_L
from analytics.samples import (
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    DropTest,
    Point,
    UtilityReport,
)
from analytics.setup import CapacityKind, Limits, LineSetup, SiteSetup
from firmware_bridge.clock import VirtualClock
from firmware_bridge.config import Site
from firmware_bridge.config.box_tables import Page
from firmware_bridge.config.wiring import MeterOptions, MeterWiring, Wiring
from firmware_bridge.daemon import Running
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.meters.virtual_cafe import joined_to
from firmware_bridge.virtual.cafe import VirtualCafe
from firmware_bridge.virtual.column_bed import ColumnBed
from firmware_bridge.virtual.week import OPENING

START_MS = int(datetime(2026, 4, 3, 5, 30, tzinfo=UTC).timestamp() * 1000)
SPEED = 10_800.0
"""Three hours a second: five weeks in under five minutes."""
PULSES_PER_L = 1000.0
RAW = water(ca=2.25, mg=0.52, na=0.9, k=0.08, cl=0.95, so4=0.48, no3=0.2, alkalinity=4.45, dic=4.8)
SET_BYPASS, TRUE_BYPASS = 0.30, 0.32
RATED_DH_L = 26_000.0
TRUE_LIFE_L = 2950.0
MOST_WAITING, EASY_WAITING = 9000, 3000
"""Rows the host may be behind: beyond the first the clock stands, below the second it runs free."""
CHANGED_AT = 1.12
"""The café changes its cartridge when it is this far past its end."""


def demo_site(folder: Path, port: int) -> Site:
    """The site file of Harbour Steps, as if it had been written and compiled."""
    line = LineSetup(
        line_id="bar",
        medium="hydrogen",
        capacity_mmol=RATED_DH_L * DH_MMOL_L,
        capacity_kind=CapacityKind.CARBONATE,
        time_limit_days=365.0,
        bypass=SET_BYPASS,
        inlet_probe=True,
        pulses_per_l=PULSES_PER_L,
        machines=("two-group machine",),
        limits=Limits(outlet_high_mmol_l=6.5 * DH_MMOL_L, gap_s=3600.0),
        opening=OPENING,
    )
    setup = SiteSetup(
        site_id="harbour-steps",
        name="Harbour Steps",
        what="café, two-group machine",
        service="Northgate Water Care",
        opening=OPENING,
        lines=(line,),
        dated=tuple(installers_facts()),
    )
    meter = MeterWiring(
        meter_id="node", driver="virtual-cafe", line_id="bar", options=MeterOptions()
    )
    return Site(
        setup=setup,
        wiring=Wiring(
            meters=(meter,),
            page=Page(port=port),
            store_path=str(folder / "harbour-steps.sqlite"),
        ),
    )


def new_bed() -> ColumnBed:
    """A new cartridge of the café's kind, as it really is."""
    return ColumnBed("hydrogen", RAW, bypass=TRUE_BYPASS, life_l=TRUE_LIFE_L)


def installers_facts() -> list[AnyEvent]:
    """What was written down on the first morning."""
    bed = new_bed()
    hardness = float(RAW.ca_mmol_l + RAW.mg_mmol_l)
    alkalinity = float(RAW.alkalinity_meq_l)
    return [
        CartridgeFitted(
            at_ms=START_MS, event_id="demo-1", cartridge_id="HS-0001", litres_before=0.0
        ),
        BypassSet(at_ms=START_MS, event_id="demo-2", share=SET_BYPASS),
        UtilityReport(
            at_ms=START_MS,
            event_id="demo-3",
            hardness_mmol_l=0.96 * hardness,
            alkalinity_meq_l=1.03 * alkalinity,
            calcium_mmol_l=0.96 * float(RAW.ca_mmol_l),
            magnesium_mmol_l=0.96 * float(RAW.mg_mmol_l),
        ),
        DropTest(
            at_ms=START_MS + 60_000,
            event_id="demo-4",
            point=Point.RAW,
            hardness_mmol_l=counted(hardness, DH_MMOL_L),
            alkalinity_meq_l=counted(alkalinity, 2.0 * DH_MMOL_L),
            who="installer",
        ),
        DropTest(
            at_ms=START_MS + 7_200_000,
            event_id="demo-5",
            point=Point.BLENDED,
            alkalinity_meq_l=counted(bed.alkalinity_meq_l(100.0), 2.0 * DH_MMOL_L),
            who="installer",
        ),
    ]


def counted(truth: float, drop: float) -> float:
    """What a drop kit reads: the drop at which the colour has turned."""
    return math.ceil(truth / drop) * drop


class Demo:
    """The café, its clock, and the person who changes the cartridge."""

    def __init__(self, speed: float = SPEED, seed: int = 1) -> None:
        self.clock = VirtualClock(START_MS, 0.0)
        self._bed = new_bed()
        self._cafe = VirtualCafe(
            start_ms=START_MS,
            seed=seed,
            bed=self._bed,
            raw_ec25_us_cm=self._bed.raw_ec25_us_cm,
            pulses_per_l=1.008 * PULSES_PER_L,
            opening=OPENING,
        )
        self._changes = 1
        self._speed = speed

    def meter(self, word: str) -> Meter:
        """The café's own meter, whatever the word."""
        return Meter(name=word, join=self._join)

    def _join(self, asked: Asked) -> Joined:
        return joined_to(self._cafe, asked.line_id, asked.clock, state=asked.state)

    async def keep_pace(self, running: Running, stop: asyncio.Event) -> None:
        """Start the clock once the meter is read; slow it while the machine does not keep up, so
        that no row is lost."""
        while not stop.is_set() and not all(meter.health.open for meter in running.meters):
            await _pause(stop, 0.05)
        while not stop.is_set():
            room = (MOST_WAITING - self._cafe.waiting_rows) / (MOST_WAITING - EASY_WAITING)
            self.clock.speed = self._speed * min(max(room, 0.0), 1.0)
            await _pause(stop, 0.05)

    async def change_cartridges(self, running: Running, stop: asyncio.Event) -> None:
        """Change the cartridge well past its end, and say so."""
        while not stop.is_set():
            if self._cafe.truth().cartridge_l > CHANGED_AT * self._bed.life_l:
                self._changes += 1
                self._bed = new_bed()
                self._cafe.fit_cartridge(self._bed)
                running.loop.tell(self._changed())
            await _pause(stop, 0.2)

    def _changed(self) -> CartridgeFitted:
        now = self.clock.now_ms()
        return CartridgeFitted(
            at_ms=now,
            known_at_ms=now,
            line_id="bar",
            event_id=f"demo-change-{self._changes}",
            cartridge_id=f"HS-{self._changes:04d}",
            litres_before=0.0,
            who="barista",
        )


async def _pause(stop: asyncio.Event, seconds: float) -> None:
    """Wait this long, or until the stop."""
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(stop.wait(), seconds)
