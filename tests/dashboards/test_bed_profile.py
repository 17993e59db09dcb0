"""The bed profile: its beads, its words, its ruler, and that nothing runs out of the drawing."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.samples import DAY_MS, Spread
from dashboards.bed import beads
from dashboards.bed.layout import PHONE, WIDE, Size, front_height, place
from dashboards.bed.ruler import ruler, span_of
from dashboards.bed.svg import text
from dashboards.bed.view import BedView, bed_view, opens
from dashboards.bed_profile import bead_definitions, bed_svg
from dashboards.state import state_of
from tests.dashboards.specimens import NOW_MS, OPENING, english, estimate, line, now, states

SIZES = (WIDE, PHONE)
WITHOUT_BED = ("carbon", "membrane", "dosing")
UNDRAWN = ("unknown", *WITHOUT_BED)


def view_of(name: str, **reader: str) -> BedView:
    """The bed of one of the specimens."""
    facts = states()[name]
    return bed_view(facts, state_of(facts, NOW_MS), english(**reader), now(), OPENING)


def beads_drawn(data: str) -> dict[int, int]:
    """Discs of each row, counted from the path as a browser would dash it."""
    rows: dict[int, int] = {}
    for _, y, length in re.findall(r"M(\d+) (\d+)h(\d+)", data):
        rows.setdefault((int(y) - 7) // 14, 0)
        rows[(int(y) - 7) // 14] += (int(length) - 1) // 16 + 1
    return rows


@pytest.mark.parametrize("name", [n for n in states() if n not in UNDRAWN])
def test_spent_share_of_a_row_is_its_probability(name: str) -> None:
    """The spent beads of each row are the row's probability to within one bead, none is lost."""
    rows = view_of(name).rows
    spent, fresh = (beads_drawn(data) for data in beads.paths(rows))

    for row, probability in enumerate(rows):
        count = beads.beads_in(row)
        assert abs(spent.get(row, 0) - probability * count) <= 1
        assert spent.get(row, 0) + fresh.get(row, 0) == count


@given(row=st.integers(0, 32), bead=st.integers(0, 8), low=st.floats(0, 1), more=st.floats(0, 1))
def test_bead_turns_once(row: int, bead: int, low: float, more: float) -> None:
    """A bead that is spent stays spent as the probability grows."""
    high = min(low + more, 1.0)

    assert not beads.is_spent(row, bead, low) or beads.is_spent(row, bead, high)
    assert not beads.is_spent(row, bead, 0.0)
    assert beads.is_spent(row, bead, 1.0)


@pytest.mark.parametrize("name", states())
@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
def test_drawing_is_well_formed_and_small(name: str, size: Size) -> None:
    """A drawing parses as XML and takes no more than 6 kB; its beads no more than 2 kB."""
    view = view_of(name)
    drawn = bed_svg(view, size)
    ET.fromstring(drawn)
    ET.fromstring(bead_definitions(view))

    assert len(drawn.encode()) < 6000
    assert len(bead_definitions(view).encode()) < 2000


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
@given(used=st.floats(0, 1))
def test_words_never_lie_over_each_other(size: Size, used: float) -> None:
    """Spent, front and fresh stand apart by 8 px, above the ruler's date, at any height."""
    column = place(size, used, 3, 3)
    tall = 3 * size.line + 4
    blocks = [(column.front, front_height(size))]
    blocks += [(top, tall) for top in (column.spent, column.fresh) if top is not None]
    blocks.sort()

    assert blocks[0][0] >= size.top - 1e-6
    for (top, height), (below, _) in pairwise(blocks):
        assert top + height + 7.9 <= below
    assert blocks[-1][0] + blocks[-1][1] <= size.end - 15


def test_under_fifteen_per_cent_fresh_moves_above_and_spent_goes() -> None:
    """Near the end line the column keeps what is left and drops what is spent."""
    column = place(WIDE, 0.92, 3, 3)

    assert column.spent is None
    assert column.fresh is not None
    assert column.fresh < column.front


@pytest.mark.parametrize("name", states())
def test_description_is_four_sentences(name: str) -> None:
    """A screen reader gets four sentences, and a remark where the drawing is old or blind."""
    said = view_of(name).description
    sentences = re.split(r"(?<=\.) (?=[A-Z0-9])", said)

    expected = 2 if name in WITHOUT_BED else 4 + (name in ("silent", "blind"))
    assert len(sentences) == expected
    assert "{" not in said


def test_description_says_what_is_drawn() -> None:
    """The words carry the same figures as the drawing."""
    assert view_of("right").description.replace("\u202f", " ") == (
        "Column of resin, read from the top: 60 % is spent, 1 860 L have passed since Friday "
        "3 April. The exchange front is at 40 % left and may lie anywhere from 50 % to 30 % left. "
        "Below it the resin is fresh, good for 1 240 litres (940 to 1 540). It is expected to "
        "reach the end line on Thursday 14 May (10–18 May); 32 % of the water goes round the bed."
    )


def test_past_the_end_there_is_no_ruler_but_the_day_it_ran_out() -> None:
    """The front lies in the heel; the days give way to the day of the end."""
    view = view_of("past")
    drawn = bed_svg(view, WIDE)

    assert view.ruler is None
    assert 'class="end past"' in drawn
    assert "ran out Mon 27 April" in drawn
    assert "day-box" not in drawn


def test_nothing_known_draws_rings_and_no_front() -> None:
    """Nothing known: open rings, a question mark, no number, no days."""
    view = view_of("unknown")
    drawn = bed_svg(view, WIDE)

    assert 'class="b-not"' in bead_definitions(view)
    assert ">?<" in drawn
    assert "bracket" not in drawn
    assert "day-box" not in drawn


def test_medium_without_a_bed_has_no_front() -> None:
    """Carbon shows only its grain and the day, a membrane its two channels; neither a front."""
    carbon, membrane = view_of("carbon"), view_of("membrane")

    assert set(beads_drawn(beads.heel())) == {30, 31, 32}
    assert beads.heel() in bead_definitions(carbon)
    assert 'class="membrane"' in bed_svg(membrane, WIDE)
    for view in (carbon, membrane):
        drawn = bed_svg(view, WIDE)
        assert "bracket" not in drawn
        assert ">?<" not in drawn
        assert "Sun 7 June" in drawn


def test_stale_drawing_says_as_of_when() -> None:
    """A silent line keeps its last drawing, at half strength, with its date in pencil."""
    drawn = bed_svg(view_of("silent"), PHONE)

    assert "stale" in drawn
    assert "as of Sunday 17:32" in drawn


def test_blind_probe_is_struck() -> None:
    """Where the probe cannot see the medium the outlet carries a struck ring and the words."""
    for size in SIZES:
        drawn = bed_svg(view_of("blind"), size)
        assert 'class="struck"' in drawn
        assert "the probe cannot see" in drawn
        assert "flow" not in drawn


def test_bypass_off_its_setting_is_told_in_pencil() -> None:
    """A share that differs from the setting by more than its range is written out."""
    facts = line(estimate(bypass=0.38), bypass_set=0.30)
    view = bed_view(facts, state_of(facts, NOW_MS), english(), now(), OPENING)

    assert "set 30\u202f%, works as 38\u202f%" in bed_svg(view, WIDE)


@pytest.mark.parametrize(("share", "width"), [(0.0, 6), (0.32, 90.4), (0.45, 110)])
def test_channel_is_as_wide_as_its_share(share: float, width: float) -> None:
    """Channel to bed is as the share to the rest, at least 6 and at most 110 wide."""
    assert WIDE.channel_width(share) == pytest.approx(width, abs=0.1)
    assert WIDE.is_cut(share) == (share > 0.4)


def test_ruler_has_a_tick_for_every_open_day() -> None:
    """Closed days have no tick: 28 days with four Sundays shut have 24."""
    end = Spread(p50=NOW_MS + 16 * DAY_MS, p05=NOW_MS + 10 * DAY_MS, p95=NOW_MS + 24 * DAY_MS)
    when = now()
    days = ruler(end, when, lambda day: opens(OPENING, (), when, day), fixed=False)

    assert len(days.ticks) == 24
    assert 0 < days.low_at < days.mid_at < days.high_at < 1


def test_closure_takes_ticks_from_the_ruler() -> None:
    """An announced closure has no ticks either."""
    end = Spread(p50=NOW_MS + 16 * DAY_MS, p05=NOW_MS + 10 * DAY_MS, p95=NOW_MS + 24 * DAY_MS)
    when, shut = now(), ((NOW_MS + DAY_MS, NOW_MS + 4 * DAY_MS),)
    days = ruler(end, when, lambda day: opens(OPENING, shut, when, day), fixed=False)

    assert len(days.ticks) == 21


@pytest.mark.parametrize(
    ("days", "span"), [(5, 28), (28, 28), (29, 56), (91, 91), (180, 182), (183, 365), (900, 365)]
)
def test_ruler_goes_from_days_to_weeks_to_months(days: float, span: int) -> None:
    """Up to 28 days by day, up to 26 weeks by week, then by month; never more than a year."""
    assert span_of(days)[0] == span


def test_end_beyond_a_year_is_an_arrow() -> None:
    """Beyond a year there is no box, only an arrow and the month."""
    far = NOW_MS + 500 * DAY_MS
    facts = line(estimate(end_ms=Spread(p50=far, p05=far - DAY_MS, p95=far + DAY_MS)))
    drawn = bed_svg(bed_view(facts, state_of(facts, NOW_MS), english(), now(), OPENING), WIDE)

    assert 'class="arrow"' in drawn
    assert "after April 2027" in drawn


def test_end_by_age_has_no_width() -> None:
    """An end by age is a stroke without a box, and the words say that it is age."""
    drawn = bed_svg(view_of("time"), WIDE)

    assert "day-box" not in drawn
    assert "by its age" in drawn


def test_only_a_line_without_room_is_set_narrower() -> None:
    """Narrow letters count as such: what fits stands as it is and is never stretched."""
    fits = text(0, 0, "seit Fr, 3. Apr", room=110)
    held = text(0, 0, "seit Donnerstag, 23. April", room=110)

    assert "textLength" not in fits
    assert 'textLength="110"' in held
