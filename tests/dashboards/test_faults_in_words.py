"""Every fault that is told apart has its words: what it is, and how to mend it."""

from __future__ import annotations

import pytest

from analytics.diagnosis.faults import FAULTS
from analytics.samples import AlarmChange
from dashboards.phrases.alarm_words import alarm_words
from dashboards.phrases.language import languages
from dashboards.phrases.reader import Reader
from tests.dashboards.specimens import english


@pytest.mark.parametrize("code", FAULTS)
@pytest.mark.parametrize("language", languages())
def test_a_fault_says_what_it_is_and_the_mend(code: str, language: str) -> None:
    """One sentence each."""
    texts = languages()[language].texts

    assert texts[f"alarm.fault-found.{code}"].endswith(".")
    assert texts[f"alarm.fault-found.{code}.do"].endswith(".")


def test_the_alarm_of_a_fault_says_its_own_mend() -> None:
    """Not the mend of faults in general."""
    reader: Reader = english()
    change = AlarmChange(
        at_ms=1, alarm="fault-found", change="raised", priority="low", word="pulses-lost"
    )
    words = alarm_words(change, reader)

    assert "loses counts" in words.title
    assert "jug" in words.do
