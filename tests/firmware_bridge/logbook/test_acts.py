"""What people do: checked, signed, written once; corrected and taken back by new entries."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import msgspec
import pytest

from analytics.errors import ActRefused
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    Acknowledged,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    CrossZero,
    DropTest,
    KFactorSet,
    Note,
    OutOfService,
    Point,
    ProbeCalibrated,
    Shelved,
    UtilityReport,
    Withdrawn,
)
from analytics.setup import SiteSetup
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.logbook.acts import UNDO_MS
from firmware_bridge.logbook.book import Logbook
from firmware_bridge.logbook.checks import faults_of
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.database import Store
from tests.makers import MONDAY_MS, hydrogen_line

SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(hydrogen_line(),))
NOW = MONDAY_MS + DAY_MS
TEST = DropTest(at_ms=NOW, line_id="bar", point=Point.BLENDED, hardness_mmol_l=1.2)


class Place:
    """A logbook over a file, its loop turning by itself."""

    def __init__(self, path: Path) -> None:
        self.store = Store.open(path, site_id="harbour-steps")
        self.clock = VirtualClock(NOW, 0.0)
        self.loop = SiteLoop(SETUP, self.store, self.clock, Live())
        self.book = Logbook(SETUP, self.store.reader(), self.loop, self.clock)


@pytest.fixture
async def place(tmp_path: Path) -> AsyncIterator[Place]:
    """A running site."""
    made = Place(tmp_path / "a.sqlite")
    running = asyncio.create_task(made.loop.run())
    yield made
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    made.store.close()


async def refused(work: object) -> list[tuple[str, str]]:
    """The faults that this work is refused for."""
    with pytest.raises(ActRefused) as caught:
        await work  # type: ignore[misc]
    return list(caught.value.faults)


async def test_entry_knows_who_and_when(place: Place) -> None:
    """Signed by whoever wrote it, with the instant at which it became known."""
    entry = await place.book.record(msgspec.structs.replace(TEST, at_ms=NOW - HOUR_MS), "Ada")

    assert (entry.event.who, entry.event.at_ms, entry.event.known_at_ms) == (
        "Ada",
        NOW - HOUR_MS,
        NOW,
    )
    assert place.store.reader().events("bar") == [entry.event]
    assert (await place.book.check()).entries == 1


async def test_act_sent_twice_is_written_once(place: Place) -> None:
    """A form that is sent again gives the entry that is there."""
    act = msgspec.structs.replace(TEST, event_id="act-0123456789abcdef")
    first, second = await asyncio.gather(
        place.book.record(act, "Ada"), place.book.record(act, "Ada")
    )

    assert first == second
    assert len(await place.book.entries()) == 1


async def test_correction_stands_in_place_of_the_old_entry(place: Place) -> None:
    """Both stay; the old one is withdrawn with the reason, the new one points to it."""
    old = await place.book.record(TEST, "Ada")
    better = msgspec.structs.replace(
        TEST, hardness_mmol_l=1.4, corrects=old.event.event_id, note="counted a drop too few"
    )
    new = await place.book.record(better, "Bo")
    entries = await place.book.entries()

    assert [e.event.__struct_config__.tag for e in entries] == [
        "drop-test",
        "withdrawn",
        "drop-test",
    ]
    assert entries[0].withdrawn_by == entries[1].seq
    assert entries[0].body == old.body
    assert (entries[1].event.note, entries[1].event.who) == ("counted a drop too few", "Bo")
    assert new.event.corrects == old.event.event_id
    assert place.store.reader().events("bar")[-1] == new.event


async def test_what_cannot_be_corrected_is_refused(place: Place) -> None:
    """No such entry, one of another kind, one that was taken back, or without a reason."""
    old = await place.book.record(TEST, "Ada")
    again = msgspec.structs.replace(TEST, corrects=old.event.event_id, note="why")
    bypass = BypassSet(at_ms=NOW, line_id="bar", share=0.3, corrects=old.event.event_id, note="why")
    nowhere = msgspec.structs.replace(again, corrects="act-none")
    bare = msgspec.structs.replace(again, note="")

    assert await refused(place.book.record(nowhere, "Bo")) == [("corrects", "no-entry")]
    assert await refused(place.book.record(bypass, "Bo")) == [("corrects", "other-kind")]
    assert await refused(place.book.record(bare, "Bo")) == [("note", "reason")]
    await place.book.undo(old.event.event_id, "Ada")
    assert await refused(place.book.record(again, "Bo")) == [("corrects", "withdrawn")]


async def test_undo_is_an_entry_and_later_takes_a_reason(place: Place) -> None:
    """Within a quarter of an hour without one; never twice."""
    first = await place.book.record(TEST, "Ada")
    second = await place.book.record(TEST, "Ada")
    undo = await place.book.undo(first.event.event_id, "Bo")
    place.clock.advance(UNDO_MS + 1)

    assert isinstance(undo.event, Withdrawn)
    assert (undo.event.withdraws, undo.event.who) == (first.event.event_id, "Bo")
    assert await refused(place.book.undo(first.event.event_id, "Bo")) == [("event_id", "withdrawn")]
    assert await refused(place.book.undo(second.event.event_id, "Bo")) == [("note", "reason")]
    assert await refused(place.book.undo("act-none", "Bo")) == [("event_id", "no-entry")]
    assert await refused(place.book.undo(undo.event.event_id, "Bo")) == [("event_id", "not-undone")]
    await place.book.undo(second.event.event_id, "Bo", "wrong line")
    assert place.store.reader().events("bar") == [
        e.event for e in await place.book.entries() if isinstance(e.event, Withdrawn)
    ]


async def test_undoing_a_correction_brings_the_old_entry_back(place: Place) -> None:
    """As an entry of its own that points to the one it replaces."""
    old = await place.book.record(TEST, "Ada")
    better = msgspec.structs.replace(
        TEST, hardness_mmol_l=1.4, corrects=old.event.event_id, note="why"
    )
    new = await place.book.record(better, "Bo")
    await place.book.undo(new.event.event_id, "Bo")
    holding = [e for e in place.store.reader().events("bar") if isinstance(e, DropTest)]

    assert [e.hardness_mmol_l for e in holding] == [1.2]
    assert holding[0].corrects == new.event.event_id
    assert (await place.book.check()).broken_at == 0


NAN, INF = float("nan"), float("inf")
WRONG: list[tuple[AnyEvent, tuple[str, str]]] = [
    (DropTest(at_ms=NOW, line_id="bar", point=Point.RAW), ("hardness_mmol_l", "missing")),
    (msgspec.structs.replace(TEST, hardness_mmol_l=NAN), ("hardness_mmol_l", "span")),
    (msgspec.structs.replace(TEST, hardness_mmol_l=-1.0), ("hardness_mmol_l", "span")),
    (msgspec.structs.replace(TEST, hardness_step_mmol_l=0.0), ("hardness_step_mmol_l", "span")),
    (msgspec.structs.replace(TEST, line_id="cellar"), ("line_id", "line")),
    (msgspec.structs.replace(TEST, line_id=""), ("line_id", "line")),
    (msgspec.structs.replace(TEST, at_ms=NOW + HOUR_MS), ("at_ms", "future")),
    (msgspec.structs.replace(TEST, at_ms=0), ("at_ms", "past")),
    (msgspec.structs.replace(TEST, note="x" * 501), ("note", "text")),
    (msgspec.structs.replace(TEST, who="a\nb"), ("who", "text")),
    (CartridgeFitted(at_ms=NOW, line_id="bar", litres_before=-1.0), ("litres_before", "span")),
    (CartridgeFitted(at_ms=NOW, line_id="bar", cartridge_id="\0"), ("cartridge_id", "text")),
    (BypassSet(at_ms=NOW, line_id="bar", share=1.0), ("share", "span")),
    (KFactorSet(at_ms=NOW, line_id="bar", pulses_per_l=INF), ("pulses_per_l", "span")),
    (ProbeCalibrated(at_ms=NOW, line_id="bar", probe="middle", gain=1.0), ("probe", "no-probe")),
    (ProbeCalibrated(at_ms=NOW, line_id="bar", probe="outlet", gain=9.0), ("gain", "span")),
    (
        CrossZero(at_ms=NOW, line_id="bar", outlet_us_cm=5, outlet_temp_c=9, inlet_us_cm=5),
        ("inlet_us_cm", "half"),
    ),
    (UtilityReport(at_ms=NOW, line_id="bar"), ("hardness_mmol_l", "missing")),
    (Closure(at_ms=NOW, until_ms=NOW), ("until_ms", "until")),
    (Closure(at_ms=NOW, until_ms=NOW + 500 * DAY_MS), ("until_ms", "until")),
    (Acknowledged(at_ms=NOW, line_id="bar", alarm="kettle"), ("alarm", "alarm")),
    (
        Shelved(at_ms=NOW, line_id="bar", alarm="data-gap", until_ms=NOW + DAY_MS),
        ("note", "reason"),
    ),
    (
        Shelved(at_ms=NOW, line_id="bar", alarm="data-gap", until_ms=NOW, note="why"),
        ("until_ms", "shelf"),
    ),
    (
        Shelved(at_ms=NOW, line_id="bar", alarm="data-gap", until_ms=NOW + 32 * DAY_MS, note="why"),
        ("until_ms", "shelf"),
    ),
    (OutOfService(at_ms=NOW, line_id="bar", alarm="data-gap"), ("note", "reason")),
    (Note(at_ms=NOW, note=" "), ("note", "missing")),
]


@pytest.mark.parametrize(("act", "fault"), WRONG)
def test_act_that_cannot_be_is_refused_by_field(act: AnyEvent, fault: tuple[str, str]) -> None:
    """Each with the field and what is wrong, and nothing else."""
    assert faults_of(act, SETUP, NOW) == [fault]


def test_closure_may_be_announced_for_the_whole_place() -> None:
    """And ahead of time."""
    closure = Closure(at_ms=NOW + 90 * DAY_MS, until_ms=NOW + 100 * DAY_MS)

    assert faults_of(closure, SETUP, NOW) == []
