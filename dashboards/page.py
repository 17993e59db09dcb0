"""What a page is: where it stands, what it is called, and how facts become what it shows."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Mapping

import msgspec

from analytics.samples import Estimate
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.sources import LineFacts, SiteFacts, SiteSource
from dashboards.state import State, state_of


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """One request, without the web: the site's facts, who reads, and the query of the address.
    `source` answers what goes beyond the facts of now. `root` is what the addresses of the site's
    pages begin with."""

    facts: SiteFacts
    reader: Reader
    source: SiteSource
    query: Mapping[str, str] = {}
    address: str = ""
    """Where whoever asks found the pages, without a path."""
    root: str = ""

    @property
    def when(self) -> When:
        """Instants in words for this reader at this moment."""
        calendar = self.reader.language.calendar
        return When(calendar, self.facts.setup.local_time, self.facts.now_ms)


class Given(msgspec.Struct, frozen=True, kw_only=True):
    """What a download gives: a file where it has a name."""

    body: bytes
    kind: str
    file_name: str = ""


class Download(msgspec.Struct, frozen=True, kw_only=True):
    """Something a page gives beside itself."""

    path: str
    give: Callable[[Asked], Given]


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of the contents. `answer` builds the view struct that `template` writes out.

    A page that is seldom wanted stands `under_more`, with a sentence of its own: the text
    `<title>-what`.
    """

    path: str
    title: str
    order: int
    template: str
    answer: Callable[[Asked], msgspec.Struct]
    downloads: tuple[Download, ...] = ()
    under_more: bool = False


def pages() -> tuple[Page, ...]:
    """Every page of the folder `pages`, in the order of the contents: a file adds one by `PAGE`."""
    package = importlib.import_module("dashboards.pages")
    found = [
        importlib.import_module(f"dashboards.pages.{module.name}").PAGE
        for module in pkgutil.iter_modules(package.__path__)
    ]
    return tuple(sorted(found, key=lambda page: page.order))


def worst_first(facts: SiteFacts) -> list[tuple[State, LineFacts]]:
    """The lines with their states, the one in most need of a person first."""
    found = [(state_of(line, facts.now_ms), line) for line in facts.lines]
    return sorted(found, key=lambda pair: (pair[0], _end_of(pair[1].estimate)))


def _end_of(estimate: Estimate | None) -> float:
    if estimate is None or estimate.end_ms is None:
        return float("inf")
    return estimate.end_ms.p50
