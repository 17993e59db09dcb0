"""Forms of the logbook: what is typed becomes an act in base units, or a sentence."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import ActRefused
from analytics.samples import BypassSet, CartridgeFitted, Closure, DropTest, Point
from analytics.setup import LocalTime
from dashboards.acts.forms import act_of, forms, moment, number, typed_moment
from dashboards.acts.prefilled import typed_of
from dashboards.acts.said import faults_said
from dashboards.phrases.language import languages
from dashboards.taste import Taste
from firmware_bridge.logbook.checks import ACTS, SPANS

NOW = 1_777_386_720_000
WINTER = LocalTime(from_ms=(0,), offset_s=(3600,))
SPRING_MS = 1_774_746_000_000  # 29 March 2026, 01:00 UTC: one hour on in central Europe
SUMMER = LocalTime(from_ms=(0, SPRING_MS), offset_s=(3600, 7200))


def act(kind: str, **typed: str) -> object:
    """What a form of this kind amounts to."""
    return act_of(forms()[kind], {"line": "bar", **typed}, WINTER, NOW)


def test_every_act_has_a_form_with_a_name_for_every_field() -> None:
    """And every field of a form is one of its act."""
    texts = languages()["en"].texts

    assert len(forms()) == len(ACTS)
    for kind, form in forms().items():
        assert f"act.{kind}" in texts
        for field in form.fields:
            assert field.attribute in form.event.__struct_fields__
            assert f"field.{field.attribute}" in texts
            for word in field.words:
                assert f"field.{field.attribute}.{word}" in texts
    for name in SPANS:
        assert f"field.{name}" in texts or name.endswith("_step_meq_l") or "calcium_step" in name


def test_drop_test_in_degrees_becomes_base_units() -> None:
    """7 degrees dH are 1.248 mmol/L; one drop of each titration is one degree."""
    found = act("drop-test", point="blended", hardness_mmol_l="7", alkalinity_meq_l="5,5",
                hardness_step_mmol_l="1", unit="dH")  # fmt: skip

    assert isinstance(found, DropTest)
    assert found.point is Point.BLENDED
    assert found.hardness_mmol_l == pytest.approx(7 * 0.178326, rel=1e-5)
    assert found.alkalinity_meq_l == pytest.approx(5.5 * 0.356652, rel=1e-5)
    assert found.hardness_step_mmol_l == pytest.approx(0.178326, rel=1e-5)
    assert found.alkalinity_step_meq_l == pytest.approx(0.356652, rel=1e-5)
    assert (found.at_ms, found.line_id) == (NOW, "bar")


@pytest.mark.parametrize(
    ("typed", "litres"), [("0", 0.0), ("1 240", 1240.0), ("?", None), ("", None)]
)
def test_cartridge_new_part_used_or_unknown(typed: str, litres: float | None) -> None:
    """0 is new, ? or nothing is not known."""
    found = act("cartridge-fitted", litres_before=typed, cartridge_id="C-17")

    assert isinstance(found, CartridgeFitted)
    assert (found.litres_before, found.cartridge_id) == (litres, "C-17")


def test_moments_are_by_the_clock_of_the_place() -> None:
    """Also on the two sides of a change of the clock."""
    closure = act("closure", until_ms="2026-04-28T18:00")
    before, after = moment("2026-03-29T01:30", SUMMER), moment("2026-03-29T03:30", SUMMER)

    assert isinstance(closure, Closure)
    assert typed_moment(closure.until_ms, WINTER) == "2026-04-28T18:00"
    assert after - before == 3_600_000
    assert typed_moment(after, SUMMER) == "2026-03-29T03:30"


def test_all_that_is_wrong_is_said_at_once() -> None:
    """One sentence a field, in words."""
    with pytest.raises(ActRefused) as caught:
        act("k-factor-set", pulses_per_l="many", relative_sd="1e9", at_ms="yesterday")

    assert set(caught.value.faults) == {
        ("at_ms", "moment"),
        ("pulses_per_l", "number"),
        ("relative_sd", "number"),
    }
    said = faults_said(caught.value, Taste().reader())
    assert "Pulses to the litre is no number. Write it like 7 or 7.5." in said


def test_a_missing_figure_is_asked_for() -> None:
    """Where the act is nothing without it."""
    with pytest.raises(ActRefused) as caught:
        act("bypass-set")

    assert caught.value.faults == (("share", "missing"),)
    found = act("bypass-set", share="30")
    assert isinstance(found, BypassSet)
    assert found.share == pytest.approx(0.3)


def test_id_of_a_form_cannot_be_chosen() -> None:
    """Only one that a form of ours carried is taken."""
    own = act("note", note="x", once="act-0123456789abcdef")
    foreign = act("note", note="x", once="site-file-0123")

    assert getattr(own, "event_id", None) == "act-0123456789abcdef"
    assert getattr(foreign, "event_id", None) == ""


FILLED = {
    "drop-test": {"point": "raw", "hardness_mmol_l": "15", "hardness_step_mmol_l": "1"},
    "cartridge-fitted": {"cartridge_id": "C-17", "litres_before": "?"},
    "bypass-set": {"share": "12.5"},
    "k-factor-set": {"pulses_per_l": "449.7", "relative_sd": "1.2"},
    "probe-calibrated": {"probe": "inlet", "gain": "0.9731", "dry_us_cm": "0.3",
                         "relative_sd": "0.5"},
    "cross-zero": {"outlet_us_cm": "640", "outlet_temp_c": "14.2"},
    "utility-report": {"hardness_mmol_l": "16.3", "ec25_us_cm": "612", "relative_sd": "7"},
    "meter-reading": {"litres": "12044"},
    "meter-replaced": {"part": "flow-meter", "pulses_per_l": "1000", "relative_sd": "3",
                       "shows_l": "0"},
    "closure": {"until_ms": "2026-05-01T08:00"},
    "shelved": {"alarm": "leak", "until_ms": "2026-05-01T08:00"},
    "note": {},
}  # fmt: skip


@pytest.mark.parametrize("unit", ["dH", "gpg"])
@pytest.mark.parametrize("kind", FILLED)
def test_an_entry_stands_in_its_form_as_it_was_typed(kind: str, unit: str) -> None:
    """What a correction begins with makes the same act again, in any reader's unit."""
    form, common = forms()[kind], {"line": "bar", "at_ms": "2026-04-28T14:32"}
    event = act_of(form, FILLED[kind] | common, SUMMER, NOW)
    again = act_of(form, typed_of(form, event, unit, SUMMER), SUMMER, NOW)

    for name in event.__struct_fields__:
        before, after = getattr(event, name), getattr(again, name)
        close = isinstance(before, float)
        assert after == (pytest.approx(before, rel=1e-5) if close else before), name


@given(st.text(max_size=40))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    """Never anything else."""
    found = refused(lambda: number(text))

    assert found == "number" or abs(float(found)) < 1e24


@given(st.text(max_size=40))
def test_any_text_is_a_moment_or_refused(text: str) -> None:
    """Never anything else."""
    found = refused(lambda: moment(text, SUMMER))

    assert found == "moment" or int(found) > 0


def refused(work: Callable[[], float]) -> str:
    """What a reader gave, or the code it refused with."""
    try:
        return str(work())
    except ValueError as fault:
        return str(fault)


WORDS = st.one_of(
    st.text(max_size=60),
    st.sampled_from(["1", "-1", "1e400", "nan", "inf", "7,5", "raw", "dH", "2026-04-28T18:00"]),
)


@given(st.sampled_from(sorted(forms())), st.data())
def test_any_form_is_an_act_or_refused(kind: str, data: st.DataObject) -> None:
    """Whatever stands in its fields; every fault has its sentence."""
    form = forms()[kind]
    names = ["line", "note", "corrects", "once", "at_ms"]
    names += [f.attribute for f in form.fields] + [f.unit_field for f in form.fields]
    typed = data.draw(st.dictionaries(st.sampled_from(names), WORDS))
    try:
        found = act_of(form, typed, SUMMER, NOW)
    except ActRefused as fault:
        said = faults_said(fault, Taste().reader())
        found = None

    assert isinstance(found, form.event) or all(sentence.endswith(".") for sentence in said)
