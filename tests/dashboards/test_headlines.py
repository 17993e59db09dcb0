"""The sentences above the numbers, one for every state."""

from __future__ import annotations

import msgspec
import pytest

from analytics.samples import DAY_MS, DropTest, Point, Spread
from analytics.setup import CapacityKind
from dashboards.page import worst_first
from dashboards.phrases.headlines import Headline, hardness_of_test, headline
from dashboards.sources import LineFacts
from dashboards.state import State, state_of
from tests.dashboards.specimens import (
    DH,
    NOW_MS,
    english,
    estimate,
    line,
    line_setup,
    now,
    site,
    states,
)


def told(facts: LineFacts) -> Headline:
    """The headline of a line."""
    return headline(facts, state_of(facts, NOW_MS), english(), now())


def plain(pieces: object) -> str:
    """Stretches as one text with plain spaces."""
    return "".join(p.text for p in pieces).replace("\u202f", " ")  # type: ignore[attr-defined]


SENTENCES = {
    "right": "The water is right. About 1 240 litres left, likely until Thursday 14 May "
    "(10–18 May).",
    "due": "The water is right. Change the cartridge by Wednesday 29 April; about 250 litres left "
    "(100–400).",
    "past": "Change the cartridge now. It is past its end; the machine gets 11.0 °dH, it should "
    "get at most 9.",
    "time": "The water is right. The cartridge is twelve months old on Friday 15 May: change it "
    "then.",
    "hard": "The water is too hard. The machine gets 10.5 °dH, it should get at most 9; the "
    "cartridge is not at its end.",
    "source": "The water main has changed, not the cartridge. Hardness in is up from 14.0 to "
    "15.5 °dH.",
    "doubt": "The figure cannot be trusted. The drop test says 9 °dH, the figure said 5.0. Test "
    "again.",
    "unknown": "Not known yet. A drop test now gives the first figure.",
    "silent": "No word from the meters since Sunday 17:32. Before that, about 1 240 litres were "
    "left (940–1 540).",
}


@pytest.mark.parametrize("name", SENTENCES)
def test_headline_says_the_state_then_the_fact(name: str) -> None:
    """Every state has its two sentences, with the range where a figure is promised."""
    assert told(states()[name]).spoken.replace("\u202f", " ") == SENTENCES[name]


@pytest.mark.parametrize("name", states())
def test_headline_never_shouts_or_begs(name: str) -> None:
    """No exclamation mark, no "please", no "error", no "I"."""
    found = told(states()[name])
    text = f"{found.spoken} {plain(found.next_do)} {plain(found.next_more)}"

    assert not set(text) & set("!{}")
    assert not {"please", "error", "I"} & set(text.replace(".", " ").split())


def test_order_is_placed_before_the_earliest_likely_end() -> None:
    """The next cartridge is ordered six days before the early end of the range."""
    found = told(line())

    assert plain(found.next_do) == "Nothing to do today."
    assert plain(found.next_more) == "Order the next cartridge by Monday 4 May."


def test_right_without_a_forecast_still_gives_litres_and_range() -> None:
    """Where use is not known there is no day, but litres keep their range."""
    facts = line(estimate(days_left=None, end_ms=None))

    assert told(facts).spoken.replace("\u202f", " ") == (
        "The water is right. About 1 240 litres left (940–1 540)."
    )


def test_end_beyond_a_year_names_no_day() -> None:
    """A forecast of more than a year is not given to the day."""
    far = NOW_MS + 500 * DAY_MS
    end = Spread(p50=far, p05=far - 60 * DAY_MS, p95=far + 90 * DAY_MS)

    assert "enough for more than a year" in told(line(estimate(end_ms=end))).spoken


def test_change_is_due_today_when_the_early_end_is_here() -> None:
    """With the early end today or before, the sentence says today."""
    end = Spread(p50=NOW_MS + DAY_MS, p05=NOW_MS - DAY_MS, p95=NOW_MS + 2 * DAY_MS)

    assert "today" in told(line(estimate(0.95, 0.03, end_ms=end))).spoken


def test_past_but_under_its_limit_says_that_it_rises() -> None:
    """At the end of capacity the water may still be under its limit: the sentence says how it is
    and where it goes, and keeps the range."""
    found = told(line(estimate(1.03, 0.02, outlet_dh=8.0)))

    assert found.spoken.replace("\u202f", " ") == (
        "Change the cartridge now. It is past its end; the machine gets 8.0 °dH (7.6–8.5), and "
        "that is rising."
    )
    assert plain(found.next_do) == "Soon the water can leave scale in the machine."


def test_past_without_a_window_shows_the_range_instead() -> None:
    """Where the site states no limit the outlet is given with its range."""
    setup = line_setup(limits=msgspec.structs.replace(line().setup.limits, outlet_high_mmol_l=None))
    found = told(line(estimate(1.03, 0.02, outlet_dh=11.0), setup=setup))

    assert found.spoken.replace("\u202f", " ") == (
        "Change the cartridge now. It is past its end; the machine gets 11.0 °dH (10.6–11.5), and "
        "that is rising."
    )


def test_cartridge_too_old_is_past_whatever_its_capacity() -> None:
    """An age limit that has gone by asks for the change, and says that age is why."""
    end = Spread(p50=NOW_MS - DAY_MS, p05=NOW_MS - DAY_MS, p95=NOW_MS - DAY_MS)
    facts = line(estimate(0.4, end_ms=end, ends_by="time"))

    assert state_of(facts, NOW_MS) is State.PAST
    assert told(facts).spoken == (
        "Change the cartridge now. It was twelve months old on Monday 27 April."
    )


def test_an_age_limit_of_one_month_is_one_month() -> None:
    """A single month is no plural."""
    end = Spread(p50=NOW_MS - DAY_MS, p05=NOW_MS - DAY_MS, p95=NOW_MS - DAY_MS)
    facts = line(estimate(0.4, end_ms=end, ends_by="time"))
    setup = msgspec.structs.replace(facts.setup, time_limit_days=30.0)

    found = told(msgspec.structs.replace(facts, setup=setup))

    assert found.spoken == "Change the cartridge now. It was one month old on Monday 27 April."


def test_meters_never_heard_is_not_silence_but_not_known() -> None:
    """A line that was never heard and has no estimate is not known yet."""
    facts = line(estimate=None, last_row_ms=None, first_row_ms=None)

    assert state_of(facts, NOW_MS) is State.UNKNOWN
    assert told(facts).first == "Not known yet."


def test_line_without_meters_is_never_silent() -> None:
    """A line kept by drop tests alone is judged by its estimate."""
    setup = line_setup(outlet_probe=False, inlet_probe=False, flow_meter=False)

    assert state_of(line(setup=setup, last_row_ms=None), NOW_MS) is State.RIGHT


@pytest.mark.parametrize(
    ("kind", "fields", "dh"),
    [
        ("total", {"hardness_mmol_l": 8 * DH, "alkalinity_meq_l": 4 * DH}, 8),
        ("carbonate", {"hardness_mmol_l": 8 * DH, "alkalinity_meq_l": 10 * DH}, 5),
        ("carbonate", {"hardness_mmol_l": 4 * DH, "alkalinity_meq_l": 10 * DH}, 4),
        ("carbonate", {"alkalinity_meq_l": 10 * DH}, 5),
        ("carbonate", {"hardness_mmol_l": 4 * DH}, None),
        ("calcium", {"hardness_mmol_l": 8 * DH, "calcium_mmol_l": 3 * DH}, 3),
    ],
)
def test_drop_test_counts_for_the_kind_the_medium_works_on(
    kind: str, fields: dict[str, float], dh: float | None
) -> None:
    """Carbonate hardness is the lesser of hardness and alkalinity (1 meq/L is half a mmol/L)."""
    test = DropTest(at_ms=NOW_MS, point=Point.BLENDED, **fields)
    found = hardness_of_test(test, CapacityKind(kind))

    assert found == (None if dh is None else pytest.approx(dh * DH))
    raw = msgspec.structs.replace(test, point=Point.RAW)
    assert hardness_of_test(raw, CapacityKind(kind)) is None


@pytest.mark.parametrize("name", ["carbon", "membrane", "dosing"])
def test_medium_without_a_bed_is_told_by_its_age(name: str) -> None:
    """Where only age tells the end, the sentence gives that day and no litres."""
    found = told(states()[name])

    assert found.spoken == (
        "The cartridge is in date. It is twelve months old on Sunday 7 June: change it then."
    )
    assert found.next_more == ()


def test_medium_without_a_bed_or_date_asks_for_the_date() -> None:
    """Without a date a drop test would not help; the sentence asks for the day it was fitted."""
    facts = msgspec.structs.replace(states()["carbon"], estimate=None)

    assert told(facts).spoken == (
        "Not known yet. Enter the day it was fitted: only age and litres tell its end."
    )


def test_lines_come_worst_first() -> None:
    """The line in most need of a person stands first; among equals the earlier end."""
    by_name = states()
    later = msgspec.structs.replace(by_name["half"], setup=line_setup(line_id="later"))
    facts = site(by_name["right"], later, by_name["due"], by_name["past"], by_name["silent"])

    ordered = [state for state, _ in worst_first(facts)]
    assert ordered == [State.PAST, State.SILENT, State.DUE, State.RIGHT, State.RIGHT]
    assert worst_first(facts)[-1][1].setup.line_id == "later"


def test_headline_follows_the_readers_unit() -> None:
    """A reader of mg/L gets the outlet and its limit in mg/L."""
    facts = states()["past"]
    found = headline(facts, State.PAST, english(hardness_unit="mg/L CaCO3"), now())

    assert "196 mg/L CaCO₃, it should get at most 161" in found.spoken.replace("\u202f", " ")
