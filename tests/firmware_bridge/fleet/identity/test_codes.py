"""The code a site is enrolled by."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import LastLitreError
from firmware_bridge.fleet.identity.codes import LENGTH, SIGNS, digest_of, new_code, plain, shown


def test_a_code_reads_back_however_it_is_typed() -> None:
    """Spaces, hyphens and capitals do not matter."""
    code = new_code()

    assert shown(plain(code)) == code
    assert plain(f"  {code.lower().replace('-', ' ')} ") == plain(code)


def test_codes_differ_and_hold_no_look_alikes() -> None:
    """No two are alike, and none has 0, O, 1, I or L."""
    codes = {new_code() for _ in range(300)}

    assert len(codes) == 300
    assert not set("".join(codes)) & set("0O1IL")
    assert len({digest_of(plain(code)) for code in codes}) == 300


@given(st.integers(0, LENGTH - 1), st.sampled_from(SIGNS))
def test_one_wrong_sign_is_found(place: int, sign: str) -> None:
    """Any one sign that is another one makes no code."""
    code = plain(new_code())
    wrong = code[:place] + sign + code[place + 1 :]

    if wrong == code:
        assert plain(wrong) == code
    else:
        with pytest.raises(LastLitreError, match="mistyped"):
            plain(wrong)


@given(st.integers(0, LENGTH - 1), st.integers(0, LENGTH - 1))
def test_two_exchanged_signs_are_found(one: int, other: int) -> None:
    """Any two signs that changed places make no code."""
    code = list(plain(new_code()))
    code[one], code[other] = code[other], code[one]
    swapped = "".join(code)

    code[one], code[other] = code[other], code[one]
    if swapped != "".join(code):
        with pytest.raises(LastLitreError, match="mistyped"):
            plain(swapped)


@pytest.mark.parametrize("typed", ["", "ABCD", "ſ" * 16, "²" * 16, "A" * 10_000, "\x00" * 16])
def test_what_is_no_code_is_called_mistyped(typed: str) -> None:
    """Whatever is typed, the answer is a sentence."""
    with pytest.raises(LastLitreError, match="mistyped"):
        plain(typed)
