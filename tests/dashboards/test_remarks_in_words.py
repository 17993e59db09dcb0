"""What a person should know of a figure, in words: every code has its text, with its numbers."""

from __future__ import annotations

import re

import msgspec
import pytest

from analytics.remarks import CODES
from analytics.samples import Estimate, Remark, Sharpener
from dashboards.phrases.remarks import remark_words, sharpener_words, told
from tests.dashboards.specimens import DH, NOW_MS, english, estimate, now

VALUES = {
    "told_mmol_l": 28 * DH,
    "low_mmol_l": 13 * DH,
    "high_mmol_l": 15.5 * DH,
    "factor": 0.5,
    "hours": 51.6,
    "litres": 84.2,
    "litres_a_day": 40.0,
}


@pytest.mark.parametrize("code", CODES)
def test_every_code_reads_as_whole_sentences_without_blanks_or_codes(code: str) -> None:
    """No blank is left, no code shows through, and each ends as a sentence does."""
    remark = Remark(code=code, which="raw-total", at_ms=NOW_MS - 3_600_000, values=VALUES)
    said = remark_words(remark, english(), now())

    assert said.endswith(".")
    assert not re.search(r"[{}]", said)
    assert code not in said


def test_a_doubted_drop_test_tells_the_day_what_was_said_and_what_was_expected() -> None:
    """A count of 28 dH where 13 to 15.5 were expected."""
    remark = Remark(
        code="drop-test-doubted", which="raw-total", at_ms=NOW_MS, event_id="t", values=VALUES
    )
    said = remark_words(remark, english(), now())

    assert "Tue 28 April" in said
    assert "total hardness of raw water" in said
    assert "28\u202f°dH" in said
    assert "13.0–15.5\u202f°dH" in said


def test_an_alkalinity_test_is_told_in_the_unit_of_hardness() -> None:
    """10 meq/L are 5 mmol/L, 28 dH."""
    values = {"told_meq_l": 2 * 28 * DH, "low_meq_l": 2 * 13 * DH, "high_meq_l": 2 * 15.5 * DH}
    remark = Remark(
        code="drop-test-doubted", which="outlet-alkalinity", at_ms=NOW_MS, values=values
    )
    said = remark_words(remark, english(), now())

    assert "28\u202f°dH" in said
    assert "alkalinity of the machine's water" in said


def test_litres_of_a_gap_and_of_stated_use_have_their_unit() -> None:
    """Hours, litres, litres a day; without a stated use only readings by hand are spoken of."""
    gap = remark_words(
        Remark(code="gap-unseen", at_ms=NOW_MS, values={"hours": 51.6, "litres": 84.2}),
        english(),
        now(),
    )
    stated = remark_words(
        Remark(code="stated-use", values={"litres_a_day": 40.0}), english(), now()
    )
    by_hand = remark_words(Remark(code="stated-use"), english(), now())

    assert "52 hours" in gap
    assert "84\u202fL" in gap
    assert "40\u202fL a day" in stated
    assert "by hand" in by_hand
    assert " L " not in by_hand


def test_what_would_sharpen_is_told_in_days_and_trifles_are_not() -> None:
    """Which drop test, a second probe, a jug: each with its days; a tenth of a day is left out."""
    said = sharpener_words(
        (
            Sharpener(what="drop-test", point="blended", kind="alkalinity", days=6.3),
            Sharpener(what="second-probe", days=1.2),
            Sharpener(what="jug-test", days=0.1),
        ),
        english(),
    )

    assert len(said) == 2
    assert "alkalinity of the machine's water" in said[0]
    assert "6 days" in said[0]
    assert "about a day" in said[1]


def test_an_estimate_stored_before_there_were_remarks_keeps_its_reason() -> None:
    """A stored row with a code for its reason is told by the catalogue, too."""
    old = msgspec.structs.replace(estimate(), reason="raw-water-unknown")
    packed = msgspec.to_builtins(old)
    del packed["remarks"]
    again = msgspec.convert(packed, Estimate)

    assert [r.code for r in told(again)] == ["raw-water-unknown"]
    assert "raw water" in remark_words(told(again)[0], english(), now())


def test_a_code_of_a_later_version_is_given_as_it_is() -> None:
    """No text for it: better the code than nothing."""
    assert remark_words(Remark(code="not-yet-known"), english(), now()) == "not-yet-known"
