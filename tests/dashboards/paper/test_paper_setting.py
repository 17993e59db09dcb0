"""Papers as they are set: tagged, whole, with drawings that stand alone."""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import msgspec
import pytest

from dashboards.line_view import line_view
from dashboards.page import Asked, worst_first
from dashboards.paper.drawings import alone
from dashboards.paper.sheet import (
    Check,
    Checks,
    Drawing,
    Facts,
    Row,
    Sheet,
    Signatures,
    Table,
    Words,
)
from dashboards.paper.typeset import pdf_of
from tests.dashboards.specimens import FixedSource, english, site, states

pytestmark = pytest.mark.timeout(120)


def sheet(*rows: Row, **changes: str) -> Sheet:
    """A small sheet."""
    whole = {
        "language": "en",
        "kind": "Cartridge change",
        "site": "Harbour Steps",
        "sentence": "The cartridge was changed on Thursday 14 May.",
        "foot": "An estimate is not a test.",
        "program": "LastLitre",
        "page_words": "page {n} of {m}",
    }
    return Sheet(rows=rows, **(whole | changes))


def read(pdf: bytes, folder: Path) -> str:
    """The text of a PDF."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, timeout=60
    )
    return done.stdout.decode()


def info(pdf: bytes, folder: Path) -> dict[str, str]:
    """What poppler says of a PDF."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdfinfo", str(path)], capture_output=True, check=True, timeout=60)
    pairs = (row.split(":", 1) for row in done.stdout.decode().splitlines())
    return {name.strip(): value.strip() for name, value in pairs}


def test_every_block_is_set_and_the_paper_is_tagged(tmp_path: Path) -> None:
    """Words, facts, tables, checks, signatures; language, title and tags for screen readers."""
    blocks = (
        Words(text="Nothing to do."),
        Facts(rows=(("Medium", "hydrogen"),)),
        Table(head=("Date", "Litres"), rows=(("1 May", "104 L"),), right=(1,)),
        Checks(
            head=("", "What", "Result", "Allowed"),
            rows=(Check(sign="pass", word="Pass", what="Dry zero", result="0.2", allowed="[0-2]"),),
        ),
        Signatures(under=("Changed by, date",)),
    )
    pdf = pdf_of(sheet(Row(title="Place", note="what and where", blocks=blocks)))
    text, about = read(pdf, tmp_path), info(pdf, tmp_path)

    for words in ("Harbour Steps", "page 1 of 1", "Nothing to do.", "hydrogen", "104 L",
                  "Dry zero", "Changed by, date", "An estimate is not a test."):  # fmt: skip
        assert words in text
    assert about["Tagged"] == "yes"
    assert about["Title"] == "Cartridge change, Harbour Steps"
    assert about["Page size"].startswith("595")


def test_american_paper_is_american(tmp_path: Path) -> None:
    """Letter size where it is asked for."""
    pdf = pdf_of(sheet(Row(blocks=(Words(text="x"),)), paper="us-letter"))

    assert info(pdf, tmp_path)["Page size"].startswith("612 x 792")


@pytest.mark.parametrize(
    "words", ["#panic()", "$x$ @here <b> & \\ ]", '"]; #read("/etc/passwd")', "日本 ✓ \u202f"]
)
def test_words_are_words_whatever_they_hold(tmp_path: Path, words: str) -> None:
    """What a person typed is never taken for an instruction of the setter."""
    pdf = pdf_of(sheet(Row(title=words, blocks=(Words(text=words),)), site=words))

    assert "root:" not in read(pdf, tmp_path)


def test_long_table_goes_over_pages_with_its_head(tmp_path: Path) -> None:
    """Rows break over pages; the head is repeated."""
    rows = tuple((f"day {n}", f"{n} L") for n in range(120))
    pdf = pdf_of(sheet(Row(title="Days", blocks=(Table(head=("Day", "Litres"), rows=rows),))))
    text = read(pdf, tmp_path)

    assert int(info(pdf, tmp_path)["Pages"]) >= 3
    assert text.count("Litres") == int(info(pdf, tmp_path)["Pages"])
    assert "day 119" in text


@pytest.mark.parametrize("name", states())
def test_drawings_stand_alone_in_every_state(tmp_path: Path, name: str) -> None:
    """Beds, weeks and strips of every state are set as vectors with their own colours."""
    facts = site(states()[name])
    asked = Asked(facts=facts, reader=english(), source=FixedSource(facts))
    state, found = worst_first(facts)[0]
    view = line_view(found, state, asked)
    drawn = [d for d in (view.bed, view.week, view.strip, view.evidence) if d]
    svgs = [alone(str(d.phone), str(view.beads)) for d in drawn]

    for svg in svgs:
        ET.fromstring(svg)
        assert "var(" not in svg
        used, defined = set(re.findall(r'href="#(\w+)"', svg)), set(re.findall(r'id="(\w+)"', svg))
        assert used <= defined
    if svgs:
        blocks = tuple(Drawing(svg=s, said="a drawing", width_mm=90) for s in svgs)
        assert pdf_of(sheet(Row(title=name, blocks=blocks))).startswith(b"%PDF")


def test_sheet_goes_to_the_setter_and_back_unchanged() -> None:
    """Every block has its kind in JSON."""
    whole = sheet(Row(blocks=(Words(text="a"), Facts(rows=(("a", "b"),)))))

    assert msgspec.json.decode(msgspec.json.encode(whole), type=Sheet) == whole
