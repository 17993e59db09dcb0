"""What is not tested widens the answer; tests that clash are named; what cannot be is refused."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import given as drawn
from hypothesis import strategies as st

from analytics.chemistry.carbonate import ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import FIELDS, charge_surplus_meq_l, hardness_mmol_l
from analytics.errors import ModelError
from analytics.samples import Spread
from analytics.survey.doubt import courses, doubts
from analytics.survey.filling import filled
from analytics.survey.given import Given, How, Reading, range_reading, value_reading
from analytics.survey.plan import survey
from analytics.survey.possible import require_possible
from analytics.survey.site import Site
from tests.analytics.survey.surveyed import LIMESTONE, TEN, codes, drops, plan_of, values


def width(figure: Spread) -> float:
    """From the 5 to the 95 % point."""
    return figure.p95 - figure.p05


@pytest.mark.parametrize("name", TEN)
def test_plausible_waters_are_whole_waters(name: str) -> None:
    """Charges close, nothing is negative, and each would have given the tests."""
    given = TEN[name]
    found = filled(given, 120, np.random.default_rng(2))

    assert np.allclose(charge_surplus_meq_l(found.water), 0.0, atol=1e-9)
    assert all(np.all(getattr(found.water, field) >= 0) for field in FIELDS)
    hardness, alkalinity = given.hardness_mmol_l, given.alkalinity_meq_l
    assert hardness is not None
    assert alkalinity is not None
    drawn_hardness = hardness_mmol_l(found.water)
    assert np.all(drawn_hardness > hardness.value - hardness.step - 1e-9)
    assert np.all(drawn_hardness <= hardness.value + 1e-9)
    assert np.all(found.water.alkalinity_meq_l <= alkalinity.value + 1e-9)
    assert given.ec25_us_cm is not None
    measured = np.median(ec25_us_cm(found.water) * found.ec_scale)
    assert measured == pytest.approx(given.ec25_us_cm.value, rel=0.03)


def test_fewer_tests_give_a_wider_answer() -> None:
    """Forgetting alkalinity widens what the machine would get; it does not stop the survey."""
    known = survey(LIMESTONE)
    unknown = survey(LIMESTONE.without("alkalinity_meq_l").without("ec25_us_cm"))

    assert width(unknown.raw.alkalinity_meq_l) > 2 * width(known.raw.alkalinity_meq_l)
    assert unknown.best.blended is not None
    assert known.best.blended is not None
    assert width(unknown.best.blended.alkalinity_meq_l) > width(known.best.blended.alkalinity_meq_l)
    assert unknown.untested == ("alkalinity_meq_l", "ec25_us_cm", "ph")


@pytest.mark.parametrize(
    "given",
    [
        values(ec25_us_cm=560.0),
        values(alkalinity_meq_l=4.0),
        values(calcium_mmol_l=2.0),
        drops(14),
        values(hardness_mmol_l=0.0, alkalinity_meq_l=4.0, ec25_us_cm=500.0),
        values(hardness_mmol_l=0.0, alkalinity_meq_l=0.0),
    ],
    ids=["conductivity", "alkalinity", "calcium", "hardness", "softened", "nothing in it"],
)
def test_one_test_is_enough_to_go_on(given: Given) -> None:
    """Each alone gives an answer with ranges."""
    found = survey(given)

    assert found.candidates
    assert found.raw.hardness_mmol_l.p95 >= found.raw.hardness_mmol_l.p05


def test_same_seed_same_answer() -> None:
    """A survey can be repeated to the last digit."""
    first, second = survey(LIMESTONE, seed=3), survey(LIMESTONE, seed=3)

    assert msgspec.json.encode(first) == msgspec.json.encode(second)


def test_softened_water_is_recognised() -> None:
    """No hardness but plenty of alkalinity: a softener stands before."""
    found = survey(values(hardness_mmol_l=0.02, alkalinity_meq_l=4.0, ec25_us_cm=520.0))

    assert "softened-already" in codes(found.notes)


@pytest.mark.parametrize(
    ("given", "code", "likely"),
    [
        (drops(20, 14, ec25_us_cm=150.0), "conductivity-too-low", "ec25_us_cm"),
        (drops(20, 3, ec25_us_cm=210.0), "conductivity-too-low", "hardness_mmol_l"),
        (drops(3, 18, ec25_us_cm=180.0), "conductivity-too-low", "alkalinity_meq_l"),
        (drops(20, ec25_us_cm=150.0), "conductivity-too-low", "ec25_us_cm"),
        (drops(10, 8, calcium_mmol_l=3.0), "calcium-above-hardness", "calcium_mmol_l"),
        (
            drops(3, 12, calcium_mmol_l=2.0, ec25_us_cm=600.0),
            "calcium-above-hardness",
            "hardness_mmol_l",
        ),
        (
            drops(12, 10, calcium_mmol_l=1.2, magnesium_mmol_l=0.2),
            "parts-not-hardness",
            "hardness_mmol_l",
        ),
        (drops(6, 16, sodium_mmol_l=0.5), "too-few-cations", "alkalinity_meq_l"),
        (drops(16, 13, ph=9.3), "ph-too-high", "ph"),
        (drops(16, 13, ph=5.2), "ph-too-low", "ph"),
    ],
)
def test_contradictions_name_the_test_that_is_likely_wrong(
    given: Given, code: str, likely: str
) -> None:
    """With the reason and what to do."""
    found = {doubt.code: doubt for doubt in doubts(given)}

    assert code in found
    assert found[code].likely == likely
    assert found[code].mends
    assert found[code].likely in found[code].between


@pytest.mark.parametrize("name", TEN)
def test_honest_waters_raise_no_doubt(name: str) -> None:
    """No false alarm over the ten."""
    assert doubts(TEN[name]) == ()


def test_alkalinity_above_hardness_is_no_contradiction() -> None:
    """A test called 'KH' titrates alkalinity: it may exceed total hardness."""
    assert doubts(drops(5, 12)) == ()


def test_a_contradiction_widens_the_answer_and_does_not_stop_it() -> None:
    """Both courses are in the range, the likely one more often."""
    clash = drops(20, 14, ec25_us_cm=150.0)
    honest = survey(drops(20, 14))
    found = survey(clash)

    assert [d.code for d in found.doubts] == ["conductivity-too-low"]
    assert width(found.raw.hardness_mmol_l) > 3 * width(honest.raw.hardness_mmol_l)
    weights = [weight for weight, _ in courses(clash)]
    assert sum(weights) == pytest.approx(1.0)
    assert max(weights) == weights[0]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (values(hardness_mmol_l=-1.0), "total hardness -1 is negative"),
        (values(hardness_mmol_l=2.0, ph=15.0), "pH 15 cannot be"),
        (values(hardness_mmol_l=2.0, ph=-1.0), "pH -1 cannot be"),
        (values(hardness_mmol_l=math.nan), "is not a number"),
        (values(hardness_mmol_l=math.inf), "is not a number"),
        (values(hardness_mmol_l=60.0), "more than any drinking water"),
        (values(ec25_us_cm=0.5), "dry probe"),
        (values(ph=7.0), "Nothing is known"),
        (
            values(hardness_mmol_l=0.0, sodium_mmol_l=0.0, alkalinity_meq_l=3.0),
            "no hardness and no sodium",
        ),
        (Given(), "Nothing is known"),
    ],
)
def test_impossible_water_is_refused_in_words(given: Given, words: str) -> None:
    """The figure is named, with a mend."""
    with pytest.raises(ModelError, match=words) as caught:
        survey(given)

    assert caught.value.hint


@pytest.mark.parametrize(
    "wrong",
    [
        {"litres_a_day": -4.0},
        {"litres_a_day": math.nan},
        {"days_a_week": 9.0},
        {"months": 0.0},
        {"capacity_mmol": -1.0},
        {"concentration": 0.5},
    ],
)
def test_impossible_use_is_refused(wrong: dict[str, float]) -> None:
    """Litres, days, months, capacity and concentration factor have their bounds."""
    with pytest.raises(ModelError, match="cannot be"):
        survey(LIMESTONE, Site(**wrong))  # type: ignore[arg-type]


def test_a_report_fills_what_was_not_tested_and_is_compared() -> None:
    """The test wins; a report far from it is remarked."""
    report = Given(
        hardness_mmol_l=value_reading("hardness_mmol_l", 1.2, How.REPORT),
        chloride_mmol_l=range_reading(0.4, 0.6, said="14-21 mg/L"),
    )
    found = survey(drops(16, 13), report=report)

    assert "report-differs" in codes(found.notes)
    assert found.given.chloride_mmol_l is not None
    assert found.raw.hardness_mmol_l.p50 == pytest.approx(2.76, abs=0.1)
    assert 13 < found.raw.chloride_mg_l.p50 < 23


def refused(given: Given) -> bool:
    """Whether these figures cannot be; a refusal always has words and a mend."""
    try:
        require_possible(given)
    except ModelError as fault:
        return bool(str(fault) and fault.hint)
    return False


AMOUNT = st.floats(0.0, 1.0)


@st.composite
def any_given(draw: st.DrawFn) -> Given:
    """Any tests, possible and impossible, in any company."""
    spans = {
        "hardness_mmol_l": 8.0,
        "alkalinity_meq_l": 12.0,
        "ec25_us_cm": 2500.0,
        "calcium_mmol_l": 6.0,
        "magnesium_mmol_l": 4.0,
        "sodium_mmol_l": 15.0,
        "chloride_mmol_l": 10.0,
        "sulphate_mmol_l": 5.0,
        "nitrate_mmol_l": 1.0,
    }
    known: dict[str, Reading] = {}
    for name in draw(st.sets(st.sampled_from(sorted(spans)), max_size=6)):
        value = spans[name] * draw(AMOUNT) ** 2
        if draw(st.booleans()):
            step = min(spans[name] / 40, value)
            known[name] = Reading(value=value, step=step, how=How.DROPS)
        else:
            known[name] = value_reading(name, value)
    if draw(st.booleans()):
        known["ph"] = value_reading("ph", draw(st.floats(2.0, 12.0)))
    return Given(**known)


@drawn(any_given())
@settings(max_examples=50, suppress_health_check=[HealthCheck.too_slow])
def test_any_tests_give_whole_waters_or_clear_words(given: Given) -> None:
    """Never NaN, never negative, never another exception than ModelError."""
    if refused(given):
        return
    found = filled(given, 12, np.random.default_rng(0))

    for field in FIELDS:
        column = getattr(found.water, field)
        assert np.all(np.isfinite(column)), field
        assert np.all(column >= 0), field
    assert np.all(np.isfinite(ph(found.water)))
    assert np.all(np.isfinite(found.ec_scale))


@pytest.mark.timeout(120)
@drawn(any_given())
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
def test_any_tests_give_a_survey_without_nan_or_clear_words(given: Given) -> None:
    """Every number of the whole answer is finite."""
    if refused(given):
        with pytest.raises(ModelError):
            survey(given)
        return
    found = survey(given, Site(litres_a_day=50.0, capacity_mmol=1000.0))

    assert all(math.isfinite(each) for each in numbers(msgspec.to_builtins(found)))


@pytest.mark.parametrize("name", TEN)
def test_ten_waters_have_no_nan(name: str) -> None:
    """And every range is the right way up."""
    found = plan_of(name)

    assert all(math.isfinite(each) for each in numbers(msgspec.to_builtins(found)))
    for each in found.candidates:
        if each.blended is None:
            continue
        for field in ("hardness_mmol_l", "alkalinity_meq_l", "ec25_us_cm", "ph", "sodium_mg_l"):
            figure = getattr(each.blended, field)
            assert figure.p05 <= figure.p50 <= figure.p95


def numbers(value: Any) -> list[float]:
    """All floats in nested builtins."""
    if isinstance(value, float):
        return [value]
    if isinstance(value, dict):
        return [n for each in value.values() for n in numbers(each)]
    if isinstance(value, list | tuple):
        return [n for each in value for n in numbers(each)]
    return []
