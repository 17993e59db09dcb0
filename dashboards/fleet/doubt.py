"""The page Doubt: sites whose data contradict themselves, what that means, what to do."""

from __future__ import annotations

import msgspec

from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.said import doubt_words, silence
from firmware_bridge.fleet.records import doubt_rows, line_rows
from firmware_bridge.fleet.records.boxes import TWO_BOXES
from firmware_bridge.fleet.records.line_rows import SILENT

MOST = 300
MOST_ASIDE = 50


class Doubted(msgspec.Struct, frozen=True, kw_only=True):
    """One site with one doubt; `page` is where it is looked into."""

    site_no: int
    page: str = "now"
    name: str
    line: str
    since: str

    @property
    def href(self) -> str:
        """The address of that page."""
        return f"/site/{self.site_no}/{self.page}"


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """A doubt: what it says, what it means, what to do, and whose it is."""

    title: str
    means: str
    do: str
    sites: tuple[Doubted, ...]


class Aside(msgspec.Struct, frozen=True, kw_only=True):
    """A message that made no sense."""

    when: str
    site: str
    topic: str
    reason: str


class DoubtView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    groups: tuple[Group, ...]
    aside: tuple[Aside, ...]


def page(asked: Asked) -> Answer:
    """Doubts by kind, the one with most sites first."""
    found: dict[str, list[Doubted]] = {}
    for one in doubt_rows.all_doubts(asked.connection, asked.sight, MOST):
        if one.doubt == SILENT:
            continue  # told from our own clock, below
        told = Doubted(
            site_no=one.site_no,
            page="about" if one.doubt == TWO_BOXES else "now",
            name=one.called,
            line=one.line,
            since=asked.say("doubt.since", moment=asked.when.moment(one.since_ms)),
        )
        found.setdefault(one.doubt, []).append(told)
    if untrusted := _untrusted(asked):
        found["untrusted"] = untrusted
    if silent := _silent(asked):
        found[SILENT] = silent
    sites = len({d.site_no for group in found.values() for d in group})
    key = f"doubt.sites.{asked.reader.language.counted(sites)}" if sites else "doubt.none"
    view = DoubtView(
        sentence=asked.opening(key, n=asked.reader.count_word(sites)),
        groups=tuple(
            _group(asked, code, tuple(found[code]))
            for code in sorted(found, key=lambda code: -len(found[code]))
        ),
        aside=tuple(_aside(asked)),
    )
    return Sheet(template="fleet/doubt.html", view=view)


def _untrusted(asked: Asked) -> list[Doubted]:
    """Lines whose figure the site itself does not trust any more."""
    return [
        Doubted(
            site_no=row.site_no,
            name=row.called,
            line=row.line,
            since=asked.say("sites.heard", age=asked.when.age(row.estimate_ms or 0)),
        )
        for row in line_rows.untrusted(asked.connection, asked.sight, MOST)
    ]


def _silent(asked: Asked) -> list[Doubted]:
    heard_by_ms = asked.now_ms - asked.house.silent_ms
    return [
        Doubted(
            site_no=row["site_no"],
            name=row["name"] or row["site"],
            line="",
            since=silence(asked, row["heard_ms"]),
        )
        for row in doubt_rows.silent(asked.connection, asked.sight, heard_by_ms, MOST)
    ]


def _group(asked: Asked, code: str, sites: tuple[Doubted, ...]) -> Group:
    def more(part: str) -> str:
        key = f"doubt.{code}.{part}"
        return asked.say(key) if asked.reader.has(key) else ""

    return Group(title=doubt_words(asked, code), means=more("means"), do=more("do"), sites=sites)


def _aside(asked: Asked) -> list[Aside]:
    return [
        Aside(when=asked.when.moment(one.at_ms), site=one.site, topic=one.topic, reason=one.reason)
        for one in doubt_rows.put_aside(asked.connection, MOST_ASIDE)
    ]


ANSWERS: Answers = {("GET", "/doubt"): page}
AGAIN: dict[str, str] = {}
