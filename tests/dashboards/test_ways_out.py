"""How rows and messages leave the box, in words, on the page More."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import msgspec
import pytest

from dashboards.page import Asked
from dashboards.pages.more import MoreView, answer
from dashboards.phrases.language import language
from dashboards.taste import Taste
from dashboards.ways import Goes, Way, ways_of
from firmware_bridge.forward.status import Condition as SinkCondition
from firmware_bridge.forward.status import SinkStatus
from firmware_bridge.notify.runner import Condition, NotifierStatus
from tests.dashboards.specimens import FixedSource, line, site


def shown(*ways: Way) -> MoreView:
    """The page of a site with these ways out."""
    facts = msgspec.structs.replace(site(line()), ways=ways)
    return answer(Asked(facts=facts, reader=Taste().reader(), source=FixedSource(facts)))


def ago(minutes: float) -> int:
    """An instant before the specimens' now."""
    return site(line()).now_ms - round(minutes * 60_000)


def test_a_way_that_fails_says_what_waits_and_what_is_wrong() -> None:
    """Backlog with its age, the last success, the last fault with its mend."""
    way = Way(
        name="fleet",
        goes=Goes.ROWS,
        condition="away",
        waiting=4200,
        waits_since_ms=ago(50),
        worked_ms=ago(55),
        trouble="broker.example: no route",
        trouble_ms=ago(1),
        hint="Check the network cable.",
    )
    (told,) = shown(way).ways

    assert told.ill
    assert told.how == "Rows do not get through; it is tried again by itself."
    assert [part.replace("\N{NARROW NO-BREAK SPACE}", " ") for part in told.sentences] == [
        "4200 wait; nothing is lost.",
        "The oldest: 50 min ago.",
        "Last one through: 55 min ago.",
        "Last fault (60 s ago): broker.example: no route. Check the network cable.",
    ]


def test_a_way_that_works_is_plain() -> None:
    """Nothing waits, nothing was wrong."""
    way = Way(name="phone", goes=Goes.MESSAGES, condition="ready")
    (told,) = shown(way).ways

    assert not told.ill
    assert told.sentences == ("None wait.", "None got through since the start.")


def test_a_site_that_sends_nothing_has_no_such_section() -> None:
    """Without sinks and notifiers there is nothing to tell."""
    assert shown().ways == ()


@pytest.mark.parametrize(
    ("goes", "conditions"), [(Goes.ROWS, SinkCondition), (Goes.MESSAGES, Condition)]
)
def test_every_condition_has_its_words(goes: Goes, conditions: type[Condition]) -> None:
    """No condition of a runner is without a sentence."""
    texts = language("en").texts

    assert {f"ways.{goes}.{condition}" for condition in conditions} <= texts.keys()


def test_what_runners_say_is_what_is_shown() -> None:
    """Sinks first, then notifiers; a fault that is over is still told."""
    sink = SinkStatus(name="fleet", backlog=7, last_trouble="gone", last_trouble_ms=5, worked_ms=9)
    told = NotifierStatus(name="phone", waiting=2, trouble="refused", hint="Mend it.")
    running = SimpleNamespace(
        sinks=[SimpleNamespace(status=sink)], notifiers=[SimpleNamespace(status=told)]
    )
    first, second = ways_of(cast(Any, running))()

    assert (first.goes, first.waiting, first.trouble, first.worked_ms) == ("rows", 7, "gone", 9)
    assert (second.goes, second.waiting, second.hint) == ("messages", 2, "Mend it.")
