"""Papers of a stored site: what they say is what is stored."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import subprocess
import zipfile
from pathlib import Path

import numpy as np
import pytest

from dashboards.paper.evidence import safe
from dashboards.paper.make import PaperAskedError, Wanted, make, wanted_of
from dashboards.paper.sheet import Row, Sheet, Words
from dashboards.paper.typeset import pdf_of
from dashboards.phrases.language import codes, languages
from tests.dashboards.lived_site import live_nine_days
from tests.dashboards.specimens import english
from tests.dashboards.stored_site import NOW_MS, Site, setup_of

pytestmark = pytest.mark.timeout(120)


@pytest.fixture
def lived(place: Site) -> Site:
    """Nine days of rows, a cartridge that ran three days past its end, and its successor."""
    live_nine_days(place)
    return place


def made(place: Site, kind: str, code: str = "en", **fields: int) -> bytes:
    """The paper's bytes."""
    wanted = Wanted(kind=kind, line_id="bar", **fields)
    reader = english(language=languages()[code])
    return make(place.reader, setup_of(), reader, NOW_MS, wanted).body


def text_of(pdf: bytes, folder: Path) -> str:
    """The words of a PDF."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    command = ["pdftotext", "-layout", str(path), "-"]
    return subprocess.run(command, capture_output=True, check=True, timeout=60).stdout.decode()


@pytest.mark.parametrize("code", codes())
def test_papers_are_set_in_every_language(lived: Site, tmp_path: Path, code: str) -> None:
    """A record is PDF/UA in each language: its fonts have every letter; none of it is English."""
    pdf = made(lived, "change", code)
    text = text_of(pdf, tmp_path)
    meta = subprocess.run(
        ["pdfinfo", "-meta", str(tmp_path / "paper.pdf")], capture_output=True, check=True
    ).stdout.decode()

    assert "pdfuaid:part" in meta
    assert re.search(rf"<dc:language>.*\b{code}\b", meta, re.DOTALL)
    if code != "en":
        text = text.replace("café with a two-group espresso machine", "")
        assert not re.search(r"\b(the|and|of|with|this|from)\b", text), text


def test_the_fonts_of_papers_have_every_letter_of_every_language() -> None:
    """All letters of all texts, in one PDF/UA: the setter says none is missing."""
    letters = {c for found in languages().values() for c in "".join(found.texts.values())}
    words = " ".join(sorted(letter for letter in letters if letter.isprintable()))
    rows = (Row(title=words, blocks=(Words(text=words),)),)
    sheet = Sheet(
        language="en", kind="k", site="s", sentence=words, foot="f", program="p",
        page_words="{n}/{m}", rows=rows,
    )  # fmt: skip

    assert b"pdfuaid" in pdf_of(sheet)


def test_change_record_says_how_late_and_what_went_in(lived: Site, tmp_path: Path) -> None:
    """Days past the end, both serial numbers, who did it, room to sign."""
    text = text_of(made(lived, "change"), tmp_path)

    assert "3 days past its end" in " ".join(text.split())
    for words in ("HS-0001", "HS-0002", "Ben", "Changed by, date", "Harbour Steps", "58 days"):
        assert words in text


def test_month_report_counts_litres_and_right_days(lived: Site, tmp_path: Path) -> None:
    """Litres are those of the store; days above the limit are not called right."""
    text = " ".join(text_of(made(lived, "month", year=2026, month=3), tmp_path).split())

    assert "The water was right on" in text or "The water was right every day" in text
    assert "Breakthrough" in text or "The cartridge is used up" in text
    assert "HS-0001" in text


def test_year_report_can_be_made(lived: Site, tmp_path: Path) -> None:
    """A year holds the same cartridges."""
    assert "HS-0002" in text_of(made(lived, "year", year=2026), tmp_path)


def test_bundle_is_whole_and_says_what_it_rests_on(lived: Site, tmp_path: Path) -> None:
    """Every file has its digest in the manifest; estimates are as they were known."""
    with zipfile.ZipFile(io.BytesIO(made(lived, "evidence", cartridge=0))) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    manifest = json.loads(files.pop("manifest.json"))
    rows = list(csv.DictReader(io.StringIO(files["estimates.csv"].decode())))
    text = text_of(files["evidence.pdf"], tmp_path)

    assert {n: hashlib.sha256(b).hexdigest() for n, b in files.items()} == manifest["files"]
    assert len(rows) == 20
    assert all(row["known_at"] == row["at"] for row in rows)
    assert manifest["files"]["days.csv"][:20] in "".join(text.split())
    assert "Flow meter checked with a jug" in text
    assert manifest["logbook_head"]


def test_the_same_facts_give_the_same_csv(lived: Site) -> None:
    """A bundle asked for twice holds the same CSVs, byte for byte."""

    def csvs() -> dict[str, bytes]:
        with zipfile.ZipFile(io.BytesIO(made(lived, "evidence", cartridge=0))) as packed:
            return {n: packed.read(n) for n in packed.namelist() if n.endswith(".csv")}

    assert csvs() == csvs()


def test_words_that_a_table_program_would_run_are_made_harmless(lived: Site) -> None:
    """A note that begins with = stays a note."""
    with zipfile.ZipFile(io.BytesIO(made(lived, "evidence", cartridge=1))) as packed:
        logbook = packed.read("logbook.csv").decode()

    assert ",'=1+1," in logbook
    assert safe("-5") == "'-5"
    assert safe(np.pi) == "3.14159"


@pytest.mark.parametrize(
    "query",
    [
        {"kind": "poster"},
        {"kind": "month", "year": "twenty"},
        {"kind": "change", "paper": "a0"},
    ],
)
def test_query_that_asks_for_nothing_is_told_what_there_is(query: dict[str, str]) -> None:
    """The answer names what could be asked for."""
    with pytest.raises(PaperAskedError) as found:
        wanted_of(query, setup_of())
    assert found.value.hint


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(kind="change", line_id="bar", cartridge=7),
        Wanted(kind="month", line_id="bar", year=2026, month=13),
        Wanted(kind="year", line_id="bar", year=0),
        Wanted(kind="change", line_id="elsewhere"),
    ],
)
def test_paper_that_cannot_be_is_refused_in_words(lived: Site, wanted: Wanted) -> None:
    """A cartridge, month or line that is not there."""
    with pytest.raises(PaperAskedError):
        make(lived.reader, setup_of(), english(), NOW_MS, wanted)


def test_line_without_a_cartridge_has_no_change_record(place: Site) -> None:
    """And the refusal says what to enter."""
    with pytest.raises(PaperAskedError) as found:
        make(place.reader, setup_of(), english(), NOW_MS, Wanted(kind="change", line_id="bar"))
    assert "fitted" in found.value.hint
