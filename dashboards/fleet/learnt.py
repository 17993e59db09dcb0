"""The page Learnt: what cartridges really deliver, by size and raw-water region, for new sites."""

from __future__ import annotations

import msgspec

from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.paging import Pages, pages_of
from dashboards.fleet.said import cartridge_words
from dashboards.fleet.standing import area_of
from dashboards.page import Given
from dashboards.phrases.numbers import EN_DASH, THIN
from firmware_bridge.fleet.priors import (
    Prior,
    Taught,
    as_csv,
    as_json,
    site_file_lines,
    taught_by,
)

A_PAGE = 50
KEPT_MS, STALE_MS = 600_000, 86_400_000
"""A cartridge lasts for weeks: within minutes nothing changes."""


class Delivers(msgspec.Struct, frozen=True, kw_only=True):
    """One kind in one region; `lines` are those of a new site's file."""

    words: str
    region: str
    rated: str
    share: str
    range_text: str
    counts: str
    lines: str


class LearntView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    left_out: str
    region: str
    regions: tuple[str, ...]
    tags: tuple[str, ...]
    rows: tuple[Delivers, ...]
    pages: Pages


def page(asked: Asked) -> Answer:
    """All kinds, or those of one region with what is expected in a new one."""
    taught, region = _taught(asked), area_of(asked.query).region
    regions = sorted({one.region for one in taught.priors} - {""})
    found = [one for one in taught.priors if not region or one.region in (region, "")]
    found.sort(key=lambda one: (one.medium, one.size, one.region == "", one.region))
    pages = pages_of(asked.query, "/learnt", len(found), A_PAGE)
    view = LearntView(
        sentence=_sentence(asked, taught),
        left_out=_counted(asked, "learnt.left-out", taught.left_out) if taught.left_out else "",
        region=region,
        regions=tuple(regions),
        tags=(),
        rows=tuple(_delivers(asked, one) for one in found[pages.first : pages.last]),
        pages=pages,
    )
    return Sheet(template="fleet/learnt.html", view=view)


def table(asked: Asked) -> Given:
    """All of it as CSV."""
    body = as_csv(_taught(asked)).encode()
    return Given(body=body, kind="text/csv; charset=utf-8", file_name="learnt.csv")


def document(asked: Asked) -> Given:
    """All of it as JSON."""
    body = as_json(_taught(asked))
    return Given(body=body, kind="application/json", file_name="learnt.json")


def _taught(asked: Asked) -> Taught:
    return asked.kept.get("learnt", taught_by, KEPT_MS, STALE_MS)


def _sentence(asked: Asked, taught: Taught) -> str:
    if not taught.cartridges:
        return asked.say("learnt.none")
    key = f"learnt.sentence.{asked.reader.language.counted(taught.cartridges)}"
    return asked.opening(key, n=asked.reader.count_word(taught.cartridges))


def _counted(asked: Asked, key: str, n: int) -> str:
    return asked.say(f"{key}.{asked.reader.language.counted(n)}", n=n)


def _delivers(asked: Asked, one: Prior) -> Delivers:
    share, reader = one.learnt.share, asked.reader
    ended, early = one.learnt.ended, one.learnt.taken_early
    return Delivers(
        words=cartridge_words(asked, one.medium, one.size),
        region=one.region or asked.say("learnt.new-region"),
        rated=f"{reader.hardness_set(one.rated_mmol)}{THIN}{reader.hardness_sign}·L",
        share=f"{100.0 * share.p50:.0f}{THIN}%",
        range_text=f"{100.0 * share.p05:.0f}{EN_DASH}{100.0 * share.p95:.0f}{THIN}%",
        counts=asked.say("learnt.counts", n=ended + early, ended=ended, early=early)
        if ended + early
        else "0",
        lines=site_file_lines(one),
    )


ANSWERS: Answers = {
    ("GET", "/learnt"): page,
    ("GET", "/learnt.csv"): table,
    ("GET", "/learnt.json"): document,
}
AGAIN: dict[str, str] = {}
