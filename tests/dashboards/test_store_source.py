"""Facts for the pages from a real store and live values."""

from __future__ import annotations

from datetime import timedelta
from itertools import count

import httpx
import msgspec
import pytest
from blockbuster import blockbuster_ctx

from analytics.errors import StoreError
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    MINUTE_MS,
    Acknowledged,
    BypassSet,
    CartridgeFitted,
    Closure,
    DropTest,
    KFactorSet,
    Point,
    Rows,
    Shelved,
    Spread,
    Withdrawn,
)
from dashboards.open_alarms import open_alarms
from dashboards.phrases.times import local_midnight
from dashboards.state import State, state_of
from dashboards.store_source import StoreSource
from dashboards.web import create_app
from firmware_bridge.live import FLOW, OUTLET_EC25
from tests.dashboards.specimens import DH, alarm, estimate
from tests.dashboards.stored_site import (
    NOW_MS,
    ROME,
    TODAY,
    Site,
    event,
    minutes,
    setup_of,
)


def test_empty_store_gives_a_line_of_which_nothing_is_known(place: Site) -> None:
    """Before the first row there are seven days without word and no estimate."""
    facts = place.line

    assert (facts.estimate, facts.first_row_ms, facts.last_row_ms) == (None, None, None)
    assert [day.litres for day in facts.days] == [None] * 7
    assert state_of(facts, NOW_MS) is State.UNKNOWN


def test_days_are_cut_at_local_midnight_also_when_the_clock_changes(place: Site) -> None:
    """Each day's litres are the pulses between its local midnights, across summer time."""
    rows = minutes()
    place.keep_rows(rows)
    days = place.line.days

    assert len(days) == 7
    for back, day in enumerate(reversed(days)):
        start = local_midnight(ROME, TODAY - timedelta(days=back))
        end = local_midnight(ROME, TODAY - timedelta(days=back - 1))
        inside = rows.pulses[(rows.at_ms >= start) & (rows.at_ms < end)]
        assert day.from_ms == start
        assert day.litres == pytest.approx(inside[inside > 0].sum() / 1000.0)
        assert day.sd_l == pytest.approx(0.03 * (day.litres or 0.0))
    assert [day.shut for day in days].index(True) == 2  # Sunday 29 March, 23 hours long


def test_day_without_a_row_is_without_word(place: Site) -> None:
    """A day the logger heard nothing is not a day of no litres."""
    rows = minutes()
    quiet = local_midnight(ROME, TODAY - timedelta(days=3))
    heard = (rows.at_ms < quiet) | (rows.at_ms >= quiet + DAY_MS)
    place.keep_rows(Rows(**{n: getattr(rows, n)[heard] for n in rows.__struct_fields__}))

    assert [day.litres is None for day in place.line.days] == [n == 3 for n in range(7)]


def test_k_factor_that_was_measured_is_used(place: Site) -> None:
    """A jug test changes litres and their spread."""
    place.keep_rows(minutes())
    before = place.line.days[-1].litres
    place.keep(events=(event(KFactorSet, 1, pulses_per_l=1250.0, relative_sd=0.01),))
    today = place.line.days[-1]

    assert before is not None
    assert today.litres == pytest.approx(before * 1000.0 / 1250.0)
    assert today.sd_l == pytest.approx(0.01 * (today.litres or 0.0))


def test_dated_facts_are_the_last_that_hold(place: Site) -> None:
    """Cartridge, bypass and drop test are the newest; what was withdrawn or lies ahead is not."""
    place.keep(
        events=(
            event(CartridgeFitted, 200, cartridge_id="old"),
            event(CartridgeFitted, 30, cartridge_id="new"),
            event(BypassSet, 30, share=0.3),
            event(BypassSet, 10, share=0.9, event_id="slip"),
            event(Withdrawn, 9, withdraws="slip"),
            event(DropTest, 5, point=Point.BLENDED, hardness_mmol_l=7 * DH),
            event(DropTest, 4, point=Point.RAW, hardness_mmol_l=15 * DH),
            event(DropTest, -1, point=Point.BLENDED, hardness_mmol_l=99 * DH),
        )
    )
    facts = place.line

    assert facts.fitted_ms == NOW_MS - 30 * DAY_MS
    assert facts.bypass_set == 0.3
    assert facts.last_test is not None
    assert facts.last_test.hardness_mmol_l == 7 * DH


def test_closure_that_lies_ahead_is_known(place: Site) -> None:
    """An announced closure reaches the ruler, and shuts the days it covers."""
    start = local_midnight(ROME, TODAY)
    place.keep(events=(Closure(at_ms=start, line_id="", until_ms=start + 3 * DAY_MS),))

    assert place.line.closures == ((start, start + 3 * DAY_MS),)
    assert place.line.days[-1].shut


def test_live_values_carry_their_spread_and_age(place: Site) -> None:
    """A live value keeps its own instant; flow without a spread gets that of the K-factor."""
    place.live.publish("bar", NOW_MS - 5000, {OUTLET_EC25: 412.0, f"{OUTLET_EC25}_sd": 6.0})
    place.live.publish("bar", NOW_MS - 1000, {FLOW: 1.5})
    facts = place.line

    assert facts.live[OUTLET_EC25].at_ms == NOW_MS - 5000
    assert facts.live[OUTLET_EC25].sd == 6.0
    assert facts.live[FLOW].sd == pytest.approx(0.045)
    assert facts.last_row_ms == NOW_MS - 1000


def test_silence_is_told_and_the_lag_of_a_fast_clock_is_not_silence(place: Site) -> None:
    """Fifteen minutes without a row is silence; on a fast clock rows still on their way are not."""
    place.keep_rows(minutes())
    place.keep(estimates=(("bar", estimate(at_ms=NOW_MS, known_at_ms=NOW_MS)),))
    assert state_of(place.line, NOW_MS) is State.RIGHT
    late = NOW_MS + 20 * MINUTE_MS
    assert state_of(place.line, late) is State.SILENT

    fast = StoreSource(setup_of(), place.reader, place.live, place.clock, speed=lambda: 1440.0)
    assert state_of(fast.facts().lines[0], late) is State.RIGHT


def test_alarm_stands_until_acknowledged_and_returned() -> None:
    """Raised, returned and acknowledged in either order, an alarm is normal again."""
    raised = alarm("leak", "Water runs with the place shut.")
    seen = msgspec.structs.replace(raised, change="acknowledged", text="Mara")
    gone = msgspec.structs.replace(raised, change="cleared", text="It has stopped.")

    assert open_alarms([raised], (), NOW_MS) == (raised,)
    for change in (seen, gone):
        (standing,) = open_alarms([raised, change], (), NOW_MS)
        assert (standing.change, standing.text) == (change.change, raised.text)
    assert open_alarms([raised, seen, gone], (), NOW_MS) == ()
    assert open_alarms([raised, gone, seen], (), NOW_MS) == ()
    assert open_alarms([raised, gone, seen, raised], (), NOW_MS) == (raised,)


def test_shelved_alarm_comes_back_when_its_time_is_over() -> None:
    """A shelf has an end."""
    raised = alarm("leak", "Water runs with the place shut.")
    shelf = Shelved(at_ms=NOW_MS - HOUR_MS, alarm="leak", until_ms=NOW_MS + HOUR_MS)

    assert [a.change for a in open_alarms([raised], [shelf], NOW_MS)] == ["shelved"]
    assert open_alarms([raised], [shelf], NOW_MS + HOUR_MS) == (raised,)
    assert open_alarms([], [shelf], NOW_MS) == ()


def test_alarms_come_highest_first() -> None:
    """The highest priority stands first, then the newest."""
    low = alarm("a", "a", priority="low")
    high = alarm("b", "b", priority="high")
    newer = msgspec.structs.replace(alarm("c", "c", priority="low"), at_ms=low.at_ms + 1)

    assert [a.alarm for a in open_alarms([low, high, newer], (), NOW_MS)] == ["b", "c", "a"]


def test_alarms_of_the_store_reach_the_line(place: Site) -> None:
    """Changes of alarms are read from the store, acknowledgements with them."""
    raised = msgspec.structs.replace(alarm("leak", "Water runs."), at_ms=NOW_MS - HOUR_MS)
    place.keep(alarms=(("bar", raised),))
    assert place.line.alarms == (raised,)
    place.keep(
        events=(event(Acknowledged, 0, alarm="leak"),),
        alarms=(("bar", msgspec.structs.replace(raised, change="acknowledged", at_ms=NOW_MS)),),
    )

    assert [a.change for a in place.line.alarms] == ["acknowledged"]


def test_raw_water_before_its_change_is_remembered(place: Site) -> None:
    """While the change of raw water is open, hardness of the day before stands beside it."""
    raised = msgspec.structs.replace(
        alarm("raw-water-changed", "Raw water changed.", priority="low"), at_ms=NOW_MS - HOUR_MS
    )
    for days_ago, raw_dh in ((2.5, 13.0), (1.5, 14.0), (0.5, 15.5), (0.01, 15.5)):
        at_ms = NOW_MS - round(days_ago * DAY_MS)
        raw = Spread(p50=raw_dh * DH, p05=(raw_dh - 1) * DH, p95=(raw_dh + 1) * DH)
        found = estimate(at_ms=at_ms, known_at_ms=at_ms, raw_mmol_l=raw)
        place.keep(estimates=(("bar", found),))
    assert place.line.raw_before_mmol_l is None
    place.keep(alarms=(("bar", raised),))

    assert place.line.raw_before_mmol_l == pytest.approx(14.0 * DH)


@pytest.mark.parametrize(
    ("medium", "probe", "sees"),
    [("hydrogen", True, True), ("sodium", True, False), ("sodium", False, True)],
)
def test_probe_that_cannot_see_its_medium_is_known(
    place: Site, medium: str, probe: bool, sees: bool
) -> None:
    """A probe behind softening shows nothing of its end; without a probe there is none to say."""
    setup = setup_of(medium=medium, outlet_probe=probe)
    facts = StoreSource(setup, place.reader, place.live, place.clock).facts()

    assert facts.lines[0].sees_medium is sees


def test_store_that_was_closed_is_told(place: Site) -> None:
    """Facts of a closed store raise an error of the store."""
    place.reader.close()

    with pytest.raises(StoreError, match="closed"):
        place.source.facts()


async def test_pages_never_block_the_event_loop(place: Site) -> None:
    """Reading the store and writing pages happen beside the event loop."""
    place.keep_rows(minutes())
    place.keep(estimates=(("bar", estimate(at_ms=NOW_MS, known_at_ms=NOW_MS)),))
    each_time = count()  # nothing is kept: every answer reads the store
    app = create_app(place.source, clock=lambda: float(next(each_time)))
    await app.state.desk.message((app.state.desk.usual, "bar"))  # imports and templates, once
    transport = httpx.ASGITransport(app=app)
    with blockbuster_ctx(scanned_modules=["dashboards", "firmware_bridge"]):
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            answer = await client.get("/now?line=bar")
        message = await app.state.desk.message((app.state.desk.usual, "bar"))

    assert answer.status_code == 200
    assert b'"ec-out' not in message
    assert b"today.value" in message
