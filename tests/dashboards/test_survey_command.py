"""The command as a new installer types it: text, JSON, drawing, profiles, faults."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, settings
from hypothesis import given as drawn
from hypothesis import strategies as st

from analytics.errors import ConfigError, LastLitreError
from analytics.survey.given import How
from analytics.survey.window import WINDOWS
from dashboards.survey_command import survey_command
from dashboards.survey_input import given_from, reading, report_from
from dashboards.survey_json import SCHEMA
from dashboards.survey_plane import PHONE, WIDE
from dashboards.survey_profile import profile_text, window_from, window_named

LIMESTONE = ("--hardness", "16 drops", "--alkalinity", "13 drops", "--ec", "560 uS/cm")
DEGREE = 1 / 5.6077


def typed(*words: str) -> Result:
    """The command with these words, faults as exceptions."""
    return CliRunner().invoke(survey_command, list(words))


def fault_of(*words: str) -> str:
    """What is said to a person who typed this."""
    found = typed(*words)
    assert isinstance(found.exception, LastLitreError)
    return f"{found.exception} {found.exception.hint}"


def test_text_says_the_answer_first() -> None:
    """Family, bypass, what the machine gets and how surely."""
    found = typed(*LIMESTONE, "--litres-a-day", "85")
    first = " ".join(found.output.split("\n\n")[0].split())

    assert found.exit_code == 0
    assert first.startswith(("Decarbonising (hydrogen), ", "Mixed (hydrogen and magnesium), "))
    assert "round the bed. The machine would get" in first
    assert "°dH" in first
    assert "in the window in" in first
    for title in ("Raw water", "What the machine gets", "Bypass", "Size", "Instead",
                  "Why not the others", "Care", "Window"):  # fmt: skip
        assert f"\n{title}" in found.output


def test_text_names_every_family_and_fits_a_terminal() -> None:
    """No family is passed over; lines fold."""
    text = typed(*LIMESTONE).output

    for family in ("carbon", "polyphosphate", "sodium", "magnesium", "remineralise"):
        assert re.search(rf"^\s+.*\b{family}\b.*: ", text, re.MULTILINE), family
    for spoken in ("Decarbonising", "Mixed", "Membrane"):
        assert spoken in text
    assert max(map(len, text.splitlines())) <= 110
    assert "nan" not in text.lower()


def test_wide_figures_keep_their_columns_apart() -> None:
    """Figures of a hard, salty water never run into the next column."""
    text = typed("--hardness", "30 dH", "--alkalinity", "6 dH", "--chloride", "60 mg/L").output
    conducts = next(line for line in text.splitlines() if line.startswith("  EC25"))

    assert len(re.split(r"\s{2,}", conducts.strip())) == 4


def test_size_shows_its_arithmetic() -> None:
    """Capacity over what the bed takes and what passes it."""
    text = " ".join(
        typed(*LIMESTONE, "--capacity", "27000 dH*L", "--litres-a-day", "85").output.split()
    )

    sum_ = r"27.000 °dH·L ÷ \(\d+\.\d °dH of carbonate hardness × \d\d %\) = \d"
    assert re.search(sum_, text)
    assert "at 85 litres an open day" in text


@pytest.mark.parametrize(
    ("units", "sign"),
    [
        ("dH", "°dH"),
        ("fH", "°fH"),
        ("e", "°e"),
        ("gpg", "gpg"),
        ("mg/L", "mg/L CaCO₃"),
        ("mmol/L", "mmol/L"),
    ],
)
def test_units_are_the_readers(units: str, sign: str) -> None:
    """All figures and sentences speak one unit, and the drawing too."""
    found = typed(*LIMESTONE, "--units", units)

    assert sign in found.output
    others = {"°dH", "°fH", "°e", "gpg"} - {sign}
    body = found.output.replace("16 drops of 1 dH", "")
    assert not any(other in body for other in others)


def test_contradiction_is_shown_and_does_not_stop() -> None:
    """'Look again' names the test, why, and what to do."""
    found = typed("--hardness", "20 drops", "--alkalinity", "14 drops", "--ec", "150 uS/cm")
    text = " ".join(found.output.split())

    assert found.exit_code == 0
    assert "Look again" in text
    assert "conductivity is likely wrong" in text
    assert "in doubt: 150 uS/cm" in text


def paths(value: Any, at: str = "") -> set[str]:
    """Paths of keys in nested JSON; items of a list are one."""
    if isinstance(value, dict):
        return {p for k, v in value.items() for p in ({f"{at}.{k}"} | paths(v, f"{at}.{k}"))}
    if isinstance(value, list):
        return {p for each in value for p in paths(each, f"{at}[]")}
    return set()


TOP = (
    "schema sentence given site window raw raw_in_window doubts notes untested candidates cautions "
    "plane"
)
CANDIDATE = (
    "family verdict score against care cautions chance_in_window bypass blended size "
    "calcite_g_a_day"
)
FIGURES = (
    "hardness_mmol_l alkalinity_meq_l calcium_mmol_l ec25_us_cm tds_mg_l ph open_ph sodium_mg_l "
    "chloride_mg_l brew_si open_brew_si brew_lime_mg_l steam_si steam_lime_mg_l"
)
BYPASS = "share low high of target raw leak formula chance"
SIZE = (
    "kind removed_mmol_l litres_a_month needed_mmol wished_months capacity_mmol litres months "
    "changed_after_months"
)


def test_json_keeps_its_keys() -> None:
    """The schema names the keys; units are in their names; a change needs a new schema."""
    whole = json.loads(typed(*LIMESTONE, "--litres-a-day", "85", "--json").output)
    best = whole["candidates"][0]

    assert whole["schema"] == SCHEMA == "lastlitre.survey/2"
    assert list(whole) == TOP.split()
    assert list(best) == CANDIDATE.split()
    assert list(best["blended"]) == list(whole["raw"]) == FIGURES.split()
    assert list(best["bypass"]) == BYPASS.split()
    assert list(best["size"]) == SIZE.split()
    assert list(best["blended"]["ph"]) == ["p50", "p05", "p95"]
    for path in paths(whole):
        assert re.fullmatch(r"[.\[\]a-z0-9_]+", path), path


def test_json_of_other_waters_has_no_other_keys() -> None:
    """What is absent is null, not missing."""
    first = json.loads(typed(*LIMESTONE, "--json").output)
    other = json.loads(typed("--hardness", "2 drops", "--alkalinity", "1 drop", "--json").output)

    assert list(first) == list(other)
    assert [list(c) for c in first["candidates"]] == [list(c) for c in other["candidates"]]


@pytest.mark.parametrize(("name", "size"), [("wide", WIDE), ("phone", PHONE)])
def test_drawing_has_its_parts_and_a_description(name: str, size: Any, tmp_path: Path) -> None:
    """Window brackets, raw square, ticked line, bead, flecks; role, title and description."""
    file = tmp_path / "plane.svg"
    found = typed(*LIMESTONE, "--svg", str(file), "--svg-size", name)
    root = ET.fromstring(file.read_text(encoding="utf-8"))
    space = "{http://www.w3.org/2000/svg}"
    kinds = [each.get("class") for each in root.iter()]

    assert found.exit_code == 0
    assert root.get("role") == "img"
    assert (root.get("width"), root.get("height")) == (str(size.width), str(size.height))
    for kind in (
        "bracket",
        "area",
        "raw",
        "run",
        "tick",
        "ring",
        "bead",
        "stretch",
        "same",
        "flecks",
    ):
        assert kind in kinds, kind
    description = root.find(f"{space}desc")
    assert description is not None
    assert "Raw water lies at 15.5 and 12.5" in str(description.text)
    ticks = next(each for each in root.iter() if each.get("class") == "tick")
    assert str(ticks.get("d")).count("M") == 9


def test_raw_square_is_one_drop_wide(tmp_path: Path) -> None:
    """As wide as 1 dH on the axis, and twice that with drops of 2 dH."""

    def width(*words: str) -> float:
        file = tmp_path / "plane.svg"
        typed(*words, "--svg", str(file))
        root = ET.fromstring(file.read_text(encoding="utf-8"))
        raw = next(each for each in root.iter() if each.get("class") == "raw")
        return float(str(raw.get("width")))

    one = width("--hardness", "16 drops", "--alkalinity", "12 drops")
    two = width("--hardness", "8 drops of 2 dH", "--alkalinity", "6 drops of 2 dH")

    assert two == pytest.approx(2 * one, rel=0.02)


def test_untested_side_is_drawn_in_pencil(tmp_path: Path) -> None:
    """A broken square where alkalinity was not tested."""
    file = tmp_path / "plane.svg"
    typed("--hardness", "12 drops", "--svg", str(file))

    assert 'class="raw guessed"' in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", WINDOWS)
def test_profiles_survive_writing_and_reading(name: str) -> None:
    """A printed profile read again is the profile."""
    import tomllib

    window = WINDOWS[name]
    again = window_from(tomllib.loads(profile_text(window)), "mine.toml")

    assert again.name == window.name
    assert again.source == window.source
    for field in ("hardness_mmol_l", "alkalinity_meq_l", "calcium_mmol_l", "ph", "sodium_mg_l"):
        ours, theirs = getattr(again, field), getattr(window, field)
        assert (ours.low or 0) == pytest.approx(theirs.low or 0, rel=1e-5)
        assert (ours.high or 0) == pytest.approx(theirs.high or 0, rel=1e-5)
        assert ours.source == theirs.source
    assert (again.si_watch, again.si_stop) == (window.si_watch, window.si_stop)


def test_every_built_in_profile_states_its_source() -> None:
    """Each range that is set says where it comes from."""
    for window in WINDOWS.values():
        assert window.source
        assert window.hardness_mmol_l.source
        assert window.alkalinity_meq_l.source


def test_a_profile_of_ones_own_is_used(tmp_path: Path) -> None:
    """And named in the answer."""
    text = typed("--print-profile", "coffee-2018").output
    file = tmp_path / "mine.toml"
    file.write_text(text.replace('name = "coffee-2018"', 'name = "our bar"'), encoding="utf-8")
    found = typed(*LIMESTONE, "--window", str(file))

    assert "Profile our bar" in " ".join(found.output.split())


def test_faults_of_a_profile_are_all_listed(tmp_path: Path) -> None:
    """Unknown keys, missing ranges, units and order."""
    file = tmp_path / "mine.toml"
    file.write_text(
        'colour = "blue"\n[hardness]\nlow = "5 mg/L"\nhi = "9 dH"\n[ph]\nlow = "7"\n',
        encoding="utf-8",
    )
    with pytest.raises(ConfigError) as caught:
        window_named(str(file))
    said = "\n".join(caught.value.faults)

    for words in (
        "'colour' is not part",
        "milligrams of what",
        "has no 'hi'",
        "[alkalinity]",
        "'7'",
    ):
        assert words in said


def test_upside_down_profile_is_refused(tmp_path: Path) -> None:
    """Low above high is named."""
    file = tmp_path / "mine.toml"
    file.write_text(
        '[hardness]\nlow = "9 dH"\nhigh = "4 dH"\n[alkalinity]\nhigh = "4 dH"\n', encoding="utf-8"
    )

    assert "does not rise" in fault_of(*LIMESTONE, "--window", str(file))


def test_report_fills_and_ranges_are_read(tmp_path: Path) -> None:
    """A utility's report in its own words."""
    file = tmp_path / "report.toml"
    file.write_text(
        'hardness = "12-15 dH"\nchloride = "18 mg/L"\nsulphate = "40 mg/L"\nph = 7.5\n',
        encoding="utf-8",
    )
    report = report_from(file)

    assert report.hardness_mmol_l is not None
    assert report.hardness_mmol_l.low == pytest.approx(12 * DEGREE, rel=1e-4)
    assert report.hardness_mmol_l.value == pytest.approx(15 * DEGREE, rel=1e-4)
    assert report.hardness_mmol_l.how is How.REPORT
    assert report.chloride_mmol_l is not None
    assert report.chloride_mmol_l.value == pytest.approx(18 / 35.45)
    assert typed("--report", str(file)).exit_code == 0


@pytest.mark.parametrize(
    ("text", "value", "step"),
    [
        ("16 drops", 16 * DEGREE, DEGREE),
        ("1 drop", DEGREE, DEGREE),
        ("8 drops of 2 dH", 16 * DEGREE, 2 * DEGREE),
        ("14 dH", 14 * DEGREE, 0.0),
        ("250 mg/L as CaCO3", 250 / 100.086, 0.0),
        ("12 to 15 dH", 15 * DEGREE, 3 * DEGREE),
        ("25 fH", 25 * 10 / 100.086, 0.0),
    ],
)
def test_ways_to_write_a_hardness(text: str, value: float, step: float) -> None:
    """Drops, values, ranges."""
    found = reading("hardness", text, "1 dH")

    assert found.value == pytest.approx(value, rel=1e-4)
    assert found.step == pytest.approx(step, rel=1e-3)


def test_conductivity_without_compensation_is_referred_to_25() -> None:
    """557 uS/cm at 10 C is 1.428 times as much at 25 C (ISO 7888)."""
    words = ("--hardness", "16 drops", "--ec", "390 uS/cm", "--ec-temp", "10 °C", "--json")
    whole = json.loads(typed(*words).output)

    assert whole["given"]["ec25_us_cm"]["value"] == pytest.approx(390 * 1.428, rel=1e-3)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hardness", "14"), 'the unit is missing. Write "14 dH"'),
        (("--hardness", "14 mg/L"), "milligrams of what"),
        (("--hardness", "-3 dH"), "negative"),
        (("--hardness", "0 drops"), "from 1 up"),
        (("--hardness", "2.5 drops"), "counted whole"),
        (("--hardness", "soft"), "not a number"),
        (("--ec", "12 drops"), "not counted in drops"),
        (("--hardness", "14 dH", "--ph", "15"), "pH 15 cannot be"),
        (("--hardness", "14 dH", "--ph", "acid"), "not a number"),
        (("--hardness", "14 dH", "--chloride", "18"), "18 mg/L"),
        (("--hardness", "14 dH", "--ec-temp", "10 °C"), "without --ec"),
        (("--ec", "400 uS/cm", "--ec-temp", "60 °C"), "0 to 35 C"),
        (("--hardness", "14 dH", "--litres-a-day", "many"), "not a number"),
        (("--hardness", "14 dH", "--litres-a-day", "-4"), "cannot be"),
        (("--hardness", "14 dH", "--capacity", "3600"), "unit is missing"),
        (("--hardness", "14 dH", "--window", "nope"), "no profile 'nope'"),
        (("--hardness", "14 dH", "--window", "nope.toml"), "no such file"),
        (("--hardness", "14 dH", "--report", "nope.toml"), "no such file"),
        (("--hardness", "14 dH", "--svg", "/nowhere/at/all.svg"), "Choose another place"),
        ((), "Nothing is known"),
        (("--ph", "7"), "at least one of total hardness"),
    ],
)
def test_faults_name_the_place_and_the_mend(words: tuple[str, ...], said: str) -> None:
    """Never a trace."""
    assert said in fault_of(*words)


def test_all_faulty_tests_are_listed_at_once() -> None:
    """An installer mends them in one go."""
    with pytest.raises(ConfigError) as caught:
        given_from({"hardness": "14", "alkalinity": "nine dH", "ec": "5 apples"}, "1 dH")

    assert len(caught.value.faults) == 3


@drawn(st.sampled_from(["hardness", "alkalinity", "ec", "chloride", "ph"]), st.text(max_size=20))
@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow])
def test_any_text_is_a_reading_or_a_clear_fault(name: str, text: str) -> None:
    """Nothing but LastLitreError ever comes out."""
    try:
        found = reading(name, text, "1 dH")
    except LastLitreError as fault:
        said = str(fault)
    else:
        said = found.said

    assert isinstance(said, str)


def test_help_explains_every_option() -> None:
    """Each option of the command has a help text."""
    for option in survey_command.params:
        assert isinstance(option, click.Option)
        assert option.help, option.name
