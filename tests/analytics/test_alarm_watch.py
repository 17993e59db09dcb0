"""Alarms followed through rows and facts: the same however cut, each at its instant."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.pipeline import LineState, advance, start
from analytics.samples import (
    Acknowledged,
    AlarmChange,
    Closure,
    Commissioning,
    CrossZero,
    Flag,
    Floats,
    Ints,
    Shelved,
    Unshelved,
)
from analytics.setup import Limits
from analytics.snapshot import from_bytes, to_bytes
from tests.alarm_rows import (
    UTC,
    between,
    block_of,
    hour,
    journal,
    minutes,
    names,
    said,
    shop,
)
from tests.makers import usual_facts

Columns = dict[str, Ints | Floats]


def drip(columns: Columns, from_h: float, until_h: float, pulses: int) -> None:
    """So many pulses a minute."""
    columns["pulses"][between(columns, from_h, until_h)] += pulses


def gone(columns: Columns, from_h: float, until_h: float) -> None:
    """No rows at all."""
    keep = np.ones(len(columns["at_ms"]), dtype=bool)
    keep[between(columns, from_h, until_h)] = False
    for name, column in list(columns.items()):
        columns[name] = column[keep]


def still(columns: Columns, from_h: float, until_h: float) -> None:
    """No flow."""
    columns["pulses"][between(columns, from_h, until_h)] = 0


def test_an_ordinary_week_raises_nothing() -> None:
    """Draws by day, rest by night, both probes and the meter well."""
    assert journal(shop(), minutes(7))[1] == []


def test_running_tap_at_night_is_a_leak_within_the_hour() -> None:
    """3 L an hour from 22 o'clock to 1; over once the water stands for an hour."""
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 22, 25, 50)))

    assert said(changes, "leak") == [("raised", 22.75), ("cleared", 26.5)]
    assert changes[0].numbers["litres_last_hour"] == pytest.approx(2.25)


def test_drip_without_end_is_a_leak_after_two_hours() -> None:
    """A tenth of a litre an hour raises no litres, but never stops."""
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 20, 30, 2)))

    assert said(changes, "leak")[0] == ("raised", 22.0)


def test_cleaning_after_closing_is_no_leak() -> None:
    """An hour before opening and after closing belongs to the day's work."""
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 18, 19, 200)))

    assert "leak" not in names(changes)


def test_water_running_in_an_announced_closure_is_a_leak() -> None:
    """Closed, with the usual draws going on all the same."""
    closure = Closure(at_ms=hour(24), until_ms=hour(48), event_id="c")
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 40, 41, 50)), (closure,))

    assert ("raised", 32.75) in said(changes, "leak")


def test_no_flow_with_the_shop_open_is_told_unless_a_closure_is_announced() -> None:
    """Four hours of opening without a drop; an announced day off says nothing."""
    rows = minutes(3, lambda c: still(c, 24, 48))
    closure = Closure(at_ms=hour(23), until_ms=hour(48), event_id="c")

    assert said(journal(shop(), rows)[1], "no-flow")[0] == ("raised", 24 + 7.5 + 4.25)
    assert said(journal(shop(), rows, (closure,))[1], "no-flow") == []


def test_three_days_standing_ask_for_a_flush_and_end_with_it() -> None:
    """72 h after the last draw; five litres later it is over."""
    rows = minutes(8, lambda c: still(c, 41, 6 * 24))
    _, changes = journal(shop(limits=Limits(no_flow_h=1000.0)), rows)
    stood = said(changes, "water-stood")

    assert stood[0] == ("raised", 41 + 72.25)
    assert stood[1][0] == "cleared"
    assert 6 * 24 + 7 + 3 < stood[1][1] < 6 * 24 + 7 + 4.5


def test_a_flush_is_asked_for_when_the_closure_ends() -> None:
    """Suppressed by design while everybody is away, told on the morning they come back."""
    rows = minutes(8, lambda c: still(c, 41, 6 * 24))
    closure = Closure(at_ms=hour(42), until_ms=hour(6 * 24 + 6), event_id="c")
    _, changes = journal(shop(), rows, (closure,))

    assert [c for c, _ in said(changes, "water-stood")] == ["suppressed", "unsuppressed", "cleared"]
    assert said(changes, "water-stood")[1] == ("unsuppressed", 6 * 24 + 6)


def test_dry_probe_fails_and_a_calibrated_one_does_not() -> None:
    """Readings of air for half an hour and more; the same in a function check is none."""

    def dry(columns: Columns) -> None:
        columns["outlet_us_cm"][between(columns, 9, 12)] = 2.0

    _, changes = journal(shop(), minutes(1, dry))
    (raised, _), word = said(changes, "outlet-probe-failure"), changes[0].word
    check = CrossZero(at_ms=hour(9), outlet_us_cm=500.0, outlet_temp_c=15.0, event_id="x")
    short = minutes(1, lambda c: c["outlet_us_cm"].__setitem__(between(c, 9, 9.9), 2.0))

    assert raised == ("raised", 9.75)
    assert word == "failure-dry"
    assert "outlet-probe-failure" not in names(journal(shop(), short, (check,))[1])


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (lambda c, at: c["outlet_us_cm"].__setitem__(at, np.nan), "failure-no-reading"),
        (lambda c, at: c["outlet_us_cm"].__setitem__(at, 50_000.0), "failure-short"),
        (lambda c, at: c["outlet_temp_c"].__setitem__(at, np.nan), "failure-no-temp"),
        (lambda c, at: c["outlet_temp_c"].__setitem__(at, 120.0), "failure-no-temp"),
    ],
)
def test_broken_probes_are_told_apart(spoil: object, word: str) -> None:
    """No reading, a short, an open or shorted thermometer."""
    rows = minutes(1, lambda c: spoil(c, between(c, 9, 12)))  # type: ignore[operator]
    _, changes = journal(shop(), rows)

    assert next(c.word for c in changes if c.alarm == "outlet-probe-failure") == word


def test_stuck_probe_fails_and_a_steady_one_does_not() -> None:
    """One figure to the last digit over two hours of many flowing rows."""

    def stick(columns: Columns) -> None:
        drip(columns, 8, 17, 20)
        columns["outlet_us_cm"][between(columns, 8, 17)] = 331.0

    _, changes = journal(shop(), minutes(1, stick))
    _, live = journal(shop(), minutes(1, lambda c: drip(c, 8, 17, 20)))

    assert next(c.word for c in changes if c.alarm == "outlet-probe-failure") == "failure-stuck"
    assert "outlet-probe-failure" not in names(live)


def test_swapped_probes_and_a_doubtful_meter_want_care() -> None:
    """Behind a hydrogen bed water conducts less; a device that doubts itself is out of spec."""

    def swap(columns: Columns) -> None:
        columns["outlet_us_cm"], columns["inlet_us_cm"] = (
            columns["inlet_us_cm"],
            columns["outlet_us_cm"],
        )
        drip(columns, 7, 18, 40)

    def doubt(columns: Columns) -> None:
        columns["flags"][between(columns, 8, 12)] = int(Flag.FLOW_SUSPECT)

    _, swapped = journal(shop(), minutes(1, swap))
    _, doubted = journal(shop(), minutes(1, doubt))

    assert "out-of-specification-swapped" in {c.word for c in swapped}
    assert [c.word for c in doubted] == ["out-of-specification-doubtful"]


def test_silence_hides_what_follows_from_it() -> None:
    """Dead meters raise the gap alone, at its instant, and it ends with the first row."""
    rows = minutes(2, lambda c: gone(c, 10, 30))
    _, changes = journal(shop(), rows)

    assert said(changes, "data-gap") == [("raised", 10.25), ("cleared", round(30 + 1 / 60, 3))]
    assert names(changes) == {"data-gap"}


def test_announced_work_suppresses_by_design() -> None:
    """Meters off while somebody works on the line is no alarm, afterwards it is."""
    work = Commissioning(at_ms=hour(9), until_ms=hour(12), event_id="w")
    rows = minutes(2, lambda c: gone(c, 10, 14))
    _, changes = journal(shop(), rows, (work,))

    assert said(changes, "data-gap") == [
        ("suppressed", 10.25),
        ("unsuppressed", 12.0),
        ("cleared", round(14 + 1 / 60, 3)),
    ]


def test_acts_count_at_their_instant_with_person_and_reason() -> None:
    """Shelved with a reason, taken back; acknowledged; all in the journal."""
    shelf = Shelved(
        at_ms=hour(22.8), alarm="leak", until_ms=hour(30), who="Ada", note="plumber", event_id="s"
    )
    back = Unshelved(at_ms=hour(23), alarm="leak", who="Ada", event_id="u")
    seen = Acknowledged(at_ms=hour(23.1), alarm="leak", who="Ben", event_id="a")
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 22, 25, 50)), (shelf, back, seen))

    assert [(c.change, c.state, c.who, c.text) for c in changes] == [
        ("raised", "unacknowledged", "", ""),
        ("shelved", "shelved", "Ada", "plumber"),
        ("unshelved", "unacknowledged", "Ada", ""),
        ("acknowledged", "acknowledged", "Ben", ""),
        ("cleared", "normal", "", ""),
    ]


def test_a_shelf_ends_without_any_row() -> None:
    """Time alone brings an alarm back, also while the meters are silent."""
    shelf = Shelved(at_ms=hour(11), alarm="data-gap", until_ms=hour(20), event_id="s")
    _, changes = journal(shop(), minutes(1, lambda c: gone(c, 10, 24)), (shelf,), until_ms=hour(24))

    assert said(changes, "data-gap") == [("raised", 10.25), ("shelved", 11.0), ("unshelved", 20.0)]


def test_an_act_told_late_counts_from_when_it_was_told() -> None:
    """The past of the journal is never written anew."""
    late = Acknowledged(at_ms=hour(1), known_at_ms=hour(23), alarm="leak", event_id="a")
    _, changes = journal(shop(), minutes(2, lambda c: drip(c, 22, 25, 50)), (late,))

    assert ("acknowledged", 23.0) in said(changes, "leak")


def troubled(columns: Columns) -> None:
    """A bit of everything."""
    drip(columns, 22, 25, 50)
    columns["outlet_us_cm"][between(columns, 9, 12)] = 2.0
    gone(columns, 30, 34)
    still(columns, 34, 44)


ROWS = minutes(3, troubled)
ACTS = (
    Acknowledged(at_ms=hour(10) + 17, alarm="outlet-probe-failure", event_id="1"),
    Closure(at_ms=hour(26), until_ms=hour(31), event_id="2"),
    Shelved(at_ms=hour(33), alarm="data-gap", until_ms=hour(40), event_id="3", note="power"),
    Acknowledged(at_ms=hour(50), alarm="leak", event_id="4"),
)
WHOLE = journal(shop(), ROWS, ACTS)


@pytest.mark.timeout(180)
@settings(max_examples=12)
@given(st.lists(st.integers(hour(0), hour(72)), max_size=40))
def test_any_cutting_gives_the_same_journal(cuts: list[int]) -> None:
    """Blocks at random boundaries: every change, its instant, its figures."""
    state, changes = journal(shop(), ROWS, ACTS, cuts=tuple(cuts))

    assert changes == WHOLE[1]
    assert to_bytes(state) == to_bytes(WHOLE[0])


def test_a_second_at_a_time_gives_the_same_journal() -> None:
    """Live and replay agree while a leak begins."""
    live = tuple(range(hour(22.5), hour(23), 1000))

    assert journal(shop(), ROWS, ACTS, cuts=live)[1] == WHOLE[1]


@pytest.mark.timeout(120)
@settings(max_examples=3)
@given(st.lists(st.integers(hour(0), hour(26)), max_size=20))
def test_whole_pipeline_gives_the_same_journal_with_snapshots_between(cuts: list[int]) -> None:
    """With estimates and facts, the state packed and read again after every block."""
    assert piped((*cuts, hour(13)), keep=True) == PIPED


def piped(cuts: tuple[int, ...], *, keep: bool = False) -> list[AlarmChange]:
    """The journal of a day by the whole pipeline."""
    rows, events, line = ROWS.cut(0, 26 * 60), (*usual_facts(), *ACTS[:2]), shop()
    state, changes, begun = start(line, 7), list[AlarmChange](), 0
    for edge in sorted({*cuts, hour(26)}):
        step = advance(line, UTC, 7, state, block_of(rows, events, begun, edge))
        state, begun = step.state, edge
        changes += step.alarms
        if keep:
            again = from_bytes(to_bytes(state), LineState)
            assert again is not None
            state = again
    return changes


PIPED = piped(())


def test_a_day_with_the_estimator_tells_of_the_meters() -> None:
    """What the pipeline's journal holds: the probe, the leak, nothing of a fresh cartridge."""
    assert names(PIPED) == {"outlet-probe-failure", "leak"}
