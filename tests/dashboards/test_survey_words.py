"""Whatever the survey can say has its words, in every language."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

import analytics
from analytics.media import media
from analytics.survey.behind import REMINERALISE
from analytics.survey.doubt import doubts
from analytics.survey.given import NAMES
from dashboards.phrases.language import languages
from dashboards.phrases.reader import HARDNESS_UNITS, Reader
from dashboards.survey_text import survey_text
from dashboards.survey_words import WRITTEN, doubt_words, field_name
from tests.analytics.survey.surveyed import COASTAL, drops, plan_of
from tests.texts import ENGLISH, blanks

SAYS = {"reason": "survey", "Caution": "caution"}


class Said(msgspec.Struct, frozen=True):
    """One place in the code that says something: where, its key, its blanks where all are named."""

    where: str
    key: str
    blanks: frozenset[str] | None


def _told(file: Path) -> Iterator[Said]:
    for call in ast.walk(ast.parse(file.read_text())):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name)):
            continue
        prefix = SAYS.get(call.func.id)
        named = {str(word.arg): word.value for word in call.keywords}
        words = [*call.args[:2]] or [named[w] for w in ("code", "variant") if w in named]
        said = [w.value for w in words if isinstance(w, ast.Constant) and w.value]
        if prefix is None or not said or not isinstance(words[0], ast.Constant):
            continue
        yield Said(
            f"{file.name}:{call.lineno}",
            ".".join([prefix, *said]),
            None if prefix == "caution" or len(call.args) > 2 else _blanks(named),
        )


def _blanks(named: dict[str, ast.expr]) -> frozenset[str]:
    found = {"parts"} if "parts" in named else set()
    if isinstance(names := named.get("names"), ast.Dict):
        found |= {key.value for key in names.keys if isinstance(key, ast.Constant)}
    for name in named.keys() - {"parts", "names", "values"}:
        end = next(end for end in WRITTEN if name.endswith(end))
        found.add(name.removesuffix(end))
    return frozenset(found)


FOLDER = Path(analytics.__file__).parent
SAID = [s for file in sorted(FOLDER.rglob("*.py")) for s in _told(file)]


@pytest.mark.parametrize("said", SAID, ids=lambda said: said.where)
def test_every_reason_and_caution_has_its_words(said: Said) -> None:
    """The key, or one of its variants, is in the catalogue, with no blank that nothing fills."""
    keys = [key for key in ENGLISH if key == said.key or key.startswith(f"{said.key}.")]

    assert keys
    if said.blanks is not None:
        assert {blank for key in keys for blank in blanks(ENGLISH[key])} <= said.blanks


def test_there_is_much_that_is_said() -> None:
    """The list above is not empty by a slip."""
    assert len(SAID) > 60


@pytest.mark.parametrize("code", languages())
def test_survey_is_told_in_every_language(code: str) -> None:
    """A whole survey, and tests that contradict each other, are written in each language."""
    for unit in HARDNESS_UNITS[:1] if code != "en" else HARDNESS_UNITS:
        reader = Reader(language=languages()[code], hardness_unit=unit)
        for name in ("coastal", "moorland"):
            text = survey_text(plan_of(name), reader)

            assert "{" not in text
            assert reader.say("report.machine") in text
    clashing = drops(16, 13, ec25_us_cm=150.0, calcium_mmol_l=5.0)
    found = [doubt_words(doubt, reader) for doubt in doubts(clashing)]
    assert len(found) >= 2
    assert doubts(COASTAL) == ()


@pytest.mark.parametrize("code", languages())
def test_every_family_and_every_test_has_a_name(code: str) -> None:
    """Families within a sentence, short and with what they do; fields of a test."""
    reader = Reader(language=languages()[code])

    for family in (*media(), REMINERALISE):
        for key in (f"family.{family}", f"family.{family}.short", f"family.{family}.does"):
            assert reader.say(key)
    assert all(field_name(field, reader) for field in NAMES)
