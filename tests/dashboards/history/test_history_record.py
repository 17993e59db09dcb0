"""What History shows is what the store holds: spikes, litres, gaps, alarms, tests."""

from __future__ import annotations

import csv
import io

import msgspec
import numpy as np
import pytest

from analytics.chemistry.temperature import ec25_natural, f25_where_defined
from analytics.draws import Gate, Run, find_draws
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AlarmChange,
    CartridgeFitted,
    Closure,
    Draws,
    DropTest,
    KFactorSet,
    Point,
    Rows,
)
from dashboards.history.record import Record, alarm_spans
from dashboards.history.span import Span, named
from dashboards.history.story import story
from dashboards.history.table import COLUMNS, table
from tests.dashboards.specimens import DH, english, estimate, now
from tests.dashboards.stored_site import FIRST_MS, NOW_MS, Site, event, minutes

SPAN = named("90-days", NOW_MS, FIRST_MS)


def shown(place: Site, span: Span = SPAN) -> Record:
    """The line over the span."""
    return place.source.record("bar", span, NOW_MS)


def drawn(rows: Rows) -> Draws:
    """The draws of these rows."""
    end_ms = int(rows.at_ms[-1]) + HOUR_MS
    return find_draws(Run(), rows, end_ms, Gate.at(1000.0), f25_where_defined)[1]


def kept(place: Site, rows: Rows) -> Draws:
    """Rows and their draws in the store."""
    draws = drawn(rows)
    place.keep_rows(rows)
    place.keep(draws=(("bar", "", draws),))
    return draws


def test_one_row_that_spikes_is_seen_over_any_span(place: Site) -> None:
    """A single reading far off stays the lowest of its bin, over an hour and over a year."""
    rows = minutes()
    spike = int(np.flatnonzero(rows.pulses > 0)[5000])
    low = rows.outlet_us_cm.copy()
    low[spike] = 37.0
    kept(place, msgspec.structs.replace(rows, outlet_us_cm=low))
    at = int(rows.at_ms[spike])
    spans = [named("90-days", NOW_MS, None), named("year", NOW_MS, None), named("week", NOW_MS, 0)]
    spans.append(Span(from_ms=at - 12 * HOUR_MS, to_ms=at + 12 * HOUR_MS))

    for span in spans:
        trace = shown(place, span).ec_out
        assert np.nanmin(trace.low) == pytest.approx(float(ec25_natural(37.0, 17.0)), abs=0.01)
        assert np.nanmin(trace.mean) > 300.0  # the line itself goes through the draws


def test_litres_of_the_bins_are_all_that_was_drawn(place: Site) -> None:
    """Bars add up to the pulses over the K-factor of their time, at every width."""
    draws = kept(place, minutes())
    place.keep(events=(event(KFactorSet, 4, pulses_per_l=1250.0),))
    turned = NOW_MS - 4 * DAY_MS
    hours = draws.start_ms - draws.start_ms % HOUR_MS
    before = draws.pulses[hours < turned].sum() / 1250.0
    after = draws.pulses[hours >= turned].sum() / 1250.0

    for name in ("90-days", "year", "all"):
        record = shown(place, named(name, NOW_MS, FIRST_MS))
        assert np.nansum(record.litres) == pytest.approx(before + after, rel=1e-9)


def test_time_without_rows_is_a_gap_and_not_a_line(place: Site) -> None:
    """Two days of silence: no value in them, and a gap with its reason."""
    rows = minutes()
    quiet = (rows.at_ms > NOW_MS - 5 * DAY_MS) & (rows.at_ms < NOW_MS - 3 * DAY_MS)
    kept(place, rows.pick(np.flatnonzero(~quiet)))
    record = shown(place, named("week", NOW_MS, FIRST_MS))
    gaps = [g for g in record.gaps if g.what == "meters"]
    middle = int(record.bins.place(np.array([NOW_MS - 4 * DAY_MS]))[0])

    assert len(gaps) == 1
    assert gaps[0].until_ms - gaps[0].from_ms == pytest.approx(2 * DAY_MS, abs=HOUR_MS)
    assert np.isnan(record.ec_out.mean[middle])
    assert np.isnan(record.litres[middle])
    assert story(record, english(), now(NOW_MS)).startswith("The meters were silent for")


def test_silent_outlet_probe_is_told_apart_from_silent_meters(place: Site) -> None:
    """Counts go on while the probe has no reading: the gap is the probe's."""
    rows = minutes()
    dead = rows.at_ms > NOW_MS - 3 * DAY_MS
    blank = np.where(dead, np.nan, rows.outlet_us_cm)
    kept(place, msgspec.structs.replace(rows, outlet_us_cm=blank))

    assert [g.what for g in shown(place).gaps] == ["outlet-probe"]


def test_alarms_stand_from_raising_to_return() -> None:
    """Acknowledging ends nothing; a return does; one raised before the span still stands."""

    def change(name: str, days_ago: float, what: str) -> AlarmChange:
        at_ms = NOW_MS - round(days_ago * DAY_MS)
        return AlarmChange(at_ms=at_ms, alarm=name, change=what, priority="high", text="")

    spans = alarm_spans(
        [
            change("breakthrough", 300, "raised"),
            change("data-gap", 200, "raised"),
            change("data-gap", 199, "cleared"),
            change("capacity-low", 20, "raised"),
            change("capacity-low", 19, "acknowledged"),
            change("capacity-low", 5, "cleared"),
        ],
        SPAN,
    )

    assert [(a.alarm, a.until_ms) for a in spans] == [
        ("breakthrough", None),
        ("capacity-low", NOW_MS - 5 * DAY_MS),
    ]


def test_drop_test_is_an_interval_of_the_kind_the_medium_works_on(place: Site) -> None:
    """Carbonate hardness is what alkalinity stands for; raw tests are not the machine's water."""
    place.keep(
        events=(
            event(DropTest, 5, point=Point.BLENDED, hardness_mmol_l=7 * DH, alkalinity_meq_l=2.0),
            event(DropTest, 4, point=Point.RAW, hardness_mmol_l=15 * DH),
        )
    )
    (only,) = shown(place).tests

    assert only.high_mmol_l in (pytest.approx(7 * DH), pytest.approx(1.0))
    assert only.low_mmol_l < only.high_mmol_l


def test_cartridge_that_ran_on_past_its_end_is_told_first(place: Site) -> None:
    """Days from the end of capacity to the change, in words."""
    ages = range(40, 20, -1)
    place.keep(
        estimates=tuple(
            (
                "bar",
                msgspec.structs.replace(
                    estimate(used=1.0 - (days - 25) / 50),
                    at_ms=NOW_MS - days * DAY_MS,
                    known_at_ms=NOW_MS - days * DAY_MS,
                    cartridge_id="first",
                    end_probability=1.0 if days <= 25 else 0.0,
                ),
            )
            for days in ages
        ),
        events=(event(CartridgeFitted, 20.9, cartridge_id="second"),),
    )

    said = story(shown(place), english(), now(NOW_MS))

    assert said == "The cartridge before this one ran four days past its end."


def test_cartridge_changed_too_early_is_told(place: Site) -> None:
    """Half a life thrown away is worth a sentence."""
    early = msgspec.structs.replace(
        estimate(used=0.5), at_ms=NOW_MS - 21 * DAY_MS, known_at_ms=NOW_MS - 21 * DAY_MS
    )
    place.keep(
        estimates=(("bar", early),),
        events=(event(CartridgeFitted, 20.9, cartridge_id="second"),),
    )

    assert "changed with about 50" in story(shown(place), english(), now(NOW_MS))


def test_closures_and_nights_are_shut(place: Site) -> None:
    """Over a week every night is shut; a closure joins them."""
    start = NOW_MS - 3 * DAY_MS
    place.keep(events=(Closure(at_ms=start, line_id="", until_ms=start + DAY_MS),))
    record = shown(place, named("week", NOW_MS, FIRST_MS))

    assert (start, start + DAY_MS) in record.shut
    assert len(record.shut) >= 7
    assert all(b > a for a, b in record.shut)


def test_table_has_a_row_a_bin_and_adds_up(place: Site) -> None:
    """The CSV of what is shown can be read back and holds the same litres."""
    kept(place, minutes())
    record = shown(place)
    rows = list(csv.DictReader(io.StringIO(table(record))))

    assert list(rows[0]) == list(COLUMNS)
    assert len(rows) == len(record.bins)
    drawn_l = sum(float(row["drawn_L"]) for row in rows if row["drawn_L"])
    assert drawn_l == pytest.approx(float(np.nansum(record.litres)), rel=1e-3)
    assert "nan" not in table(record)
