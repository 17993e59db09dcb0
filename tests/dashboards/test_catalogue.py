"""The catalogue of texts: whole in every language, and nothing in it that no page uses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboards
from analytics.alarm import Rule, rules
from analytics.media import media
from dashboards.phrases.alarm_words import BLANKS
from dashboards.phrases.language import FALLBACK, languages
from dashboards.signs import DROP_STATES, GLASS_STATES, PRIORITY_DROPS, check_bead, glass, plate
from dashboards.state import GLASS
from tests.dashboards.alike import ALIKE, ALIKE_TEXTS
from tests.texts import ENGLISH, amiss, blanks, same_as_english

FOLDER = Path(dashboards.__file__).parent


@pytest.mark.parametrize("code", languages())
def test_languages_have_the_same_texts_with_the_same_blanks(code: str) -> None:
    """Every language has every text, and no blank more or less than English."""
    assert list(amiss(code)) == []


@pytest.mark.parametrize("code", [code for code in languages() if code != FALLBACK] or [FALLBACK])
def test_nothing_is_left_in_english(code: str) -> None:
    """A text with words in it that reads as in English is so on purpose, and stands in the list."""
    alike = same_as_english(code) if code != FALLBACK else {}
    left = {k: v for k, v in alike.items() if k not in ALIKE and v not in ALIKE_TEXTS}

    assert left == {}


@pytest.mark.parametrize("code", languages())
def test_calendar_is_whole(code: str) -> None:
    """Twelve months, seven days, words for nought to twelve."""
    language = languages()[code]
    calendar = language.calendar

    assert [len(calendar.months), len(calendar.months_short)] == [12, 12]
    assert [len(calendar.weekdays), len(calendar.weekdays_short)] == [7, 7]
    assert len(language.small_numbers) == 13


def test_every_text_a_page_asks_for_is_there() -> None:
    """Keys written in code and templates are in the catalogue."""
    sources = [*FOLDER.rglob("*.py"), *FOLDER.rglob("*.html")]
    asked: set[str] = set()
    for source in sources:
        text = source.read_text()
        asked |= set(
            re.findall(r"(?:say|pieces|_water)\(\s*[\"']([a-z0-9.-]+\.[a-z0-9-]+)[\"']", text)
        )

    assert asked
    assert asked <= ENGLISH.keys()


def test_every_state_priority_and_medium_has_its_word() -> None:
    """No sign stands without its word."""
    assert {f"state.{name}" for name in GLASS.values()} <= ENGLISH.keys()
    assert {f"priority.{name}" for name in PRIORITY_DROPS} <= ENGLISH.keys()
    assert {f"change.{name}" for name in DROP_STATES} <= ENGLISH.keys()
    assert {f"medium.{name}" for name in media()} <= ENGLISH.keys()


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.name)
def test_every_alarm_rule_has_its_words(rule: Rule) -> None:
    """What it says, its cause, its consequence and what to do stand in the catalogue."""
    key = f"alarm.{rule.name}"

    assert {key, f"{key}.cause", f"{key}.consequence", f"{key}.do"} <= ENGLISH.keys()
    assert set(blanks(ENGLISH.get(f"{key}.figures", ""))) <= BLANKS.keys()
    assert not blanks(ENGLISH[key])


def test_no_words_of_an_alarm_that_is_not() -> None:
    """Every text of an alarm belongs to a rule."""
    names = {rule.name for rule in rules()}

    assert {key.split(".")[1] for key in ENGLISH if key.startswith("alarm.")} == names


def test_signs_differ_in_shape_not_only_in_colour() -> None:
    """With every class and colour taken away no two signs of a kind are alike."""

    def bare(sign: str) -> str:
        return re.sub(r' (class|width)="[^"]*"', "", sign)

    glasses = {name: bare(glass(name, 48)) for name in GLASS_STATES}
    beads = {bare(check_bead(name)) for name in ("pass", "not-yet", "outside")}
    plates = {plate(letter) for letter in "FCSM"}

    assert len(set(glasses.values())) == len(glasses)
    assert len(beads) == 3
    assert len(plates) == 4
    with pytest.raises(ValueError, match="F, C, S or M"):
        plate("X")
