"""What a paper is made of: rows with words in the margin and blocks beside the double line."""

from __future__ import annotations

import msgspec


class Words(msgspec.Struct, frozen=True, kw_only=True, tag="words"):
    """A paragraph; `weight` is plain, strong or small."""

    text: str
    weight: str = "plain"


class Facts(msgspec.Struct, frozen=True, kw_only=True, tag="facts"):
    """Names and what they are, one under another."""

    rows: tuple[tuple[str, str], ...]


class Table(msgspec.Struct, frozen=True, kw_only=True, tag="table"):
    """A table with a head that is repeated on each page; `right` are the columns of figures, `wide`
    is the one that takes the room that is left."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    wide: int = 0


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """One check: its sign (pass, not-yet, outside), what, what came out, what is allowed."""

    sign: str
    word: str
    what: str
    result: str
    allowed: str


class Checks(msgspec.Struct, frozen=True, kw_only=True, tag="checks"):
    """Checks one under another; `head` names the columns."""

    head: tuple[str, str, str, str]
    rows: tuple[Check, ...]


class Drawing(msgspec.Struct, frozen=True, kw_only=True, tag="drawing"):
    """An SVG that stands alone, `width_mm` wide, and the words for who cannot see it."""

    svg: str
    said: str
    width_mm: float


class Signatures(msgspec.Struct, frozen=True, kw_only=True, tag="signatures"):
    """Lines to sign on, with what stands under each."""

    under: tuple[str, ...]


Block = Words | Facts | Table | Checks | Drawing | Signatures


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A row of the sheet: a title and a note in the margin, blocks beside it."""

    title: str = ""
    note: str = ""
    blocks: tuple[Block, ...]


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A whole paper. `paper` is a4 or us-letter; `page_words` has blanks {n} and {m}."""

    language: str
    kind: str
    site: str
    sentence: str
    foot: str
    program: str
    page_words: str
    rows: tuple[Row, ...]
    paper: str = "a4"
