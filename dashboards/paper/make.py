"""From what was asked for to a paper: what the store tells, set and packed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from analytics.errors import LastLitreError
from analytics.samples import DAY_MS, HOUR_MS
from analytics.setup import SiteSetup
from dashboards.commissioning.notebook import Notebook
from dashboards.history.record import record_of
from dashboards.history.span import Span
from dashboards.paper.change import AFTER_MS, BEFORE_MS, change_record
from dashboards.paper.common import Desk
from dashboards.paper.evidence import Known, bundle, csv_files, evidence_sheet
from dashboards.paper.facts import Cartridge, cartridges
from dashboards.paper.period import month_span, period_report, year_span
from dashboards.paper.typeset import pdf_of
from dashboards.phrases.reader import Reader as Person
from dashboards.phrases.times import When
from dashboards.site_reader import SiteReader
from firmware_bridge.store.chain import verify_chain
from firmware_bridge.store.reader import Reader

KINDS = ("change", "month", "year", "evidence", "handover")
SIZES = ("a4", "us-letter")


class PaperAskedError(LastLitreError):
    """What was asked for cannot be made."""


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A paper asked for. `cartridge` is the place in the line's list, 0 the oldest, -1 the one that
    is in; `year` and `month` belong to reports. `address` is that of the pages."""

    kind: str
    line_id: str
    cartridge: int = -1
    year: int = 0
    month: int = 0
    paper: str = "a4"
    address: str = ""


class Made(msgspec.Struct, frozen=True, kw_only=True):
    """A paper as a file."""

    body: bytes
    kind: str
    file_name: str


def wanted_of(query: Mapping[str, str], setup: SiteSetup) -> Wanted:
    """What a query asks for; raises PaperAskedError."""
    kind, paper = query.get("kind", ""), query.get("paper", "a4")
    if kind not in KINDS:
        raise PaperAskedError(f"There is no paper {kind[:40]!r}.", f"Ask for {', '.join(KINDS)}.")
    if paper not in SIZES:
        raise PaperAskedError(f"There is no size {paper[:40]!r}.", f"Ask for {' or '.join(SIZES)}.")
    line_id = query.get("line") or (setup.lines[0].line_id if setup.lines else "")
    try:
        numbers: dict[str, Any] = {
            n: int(query[n]) for n in ("cartridge", "year", "month") if n in query
        }
    except ValueError as exc:
        raise PaperAskedError(
            "cartridge, year and month are whole numbers.", "Write them like month=4."
        ) from exc
    return Wanted(kind=kind, line_id=line_id, paper=paper, **numbers)


def make(store: SiteReader, setup: SiteSetup, person: Person, now_ms: int, wanted: Wanted) -> Made:
    """The paper; raises PaperAskedError where there is none, StoreError, PaperError."""
    line = next((x for x in setup.lines if x.line_id == wanted.line_id), None)
    if line is None:
        known = ", ".join(x.line_id for x in setup.lines) or "none"
        raise PaperAskedError(f"There is no line {wanted.line_id[:40]!r}.", f"There is: {known}.")
    when = When(person.language.calendar, setup.local_time, now_ms)
    desk = Desk(setup=setup, line=line, reader=person, when=when, paper=wanted.paper,
                address=wanted.address)  # fmt: skip
    if wanted.kind in ("month", "year"):
        return _report(store, desk, wanted, now_ms)
    if wanted.kind == "handover":
        return _handover(store, desk, now_ms)
    found = cartridges(store, line.line_id, now_ms)
    chosen = _chosen(found, wanted)
    if wanted.kind == "change":
        return _change(store, desk, found, chosen, now_ms)
    return _evidence(store, desk, found[chosen], now_ms)


def _handover(store: SiteReader, desk: Desk, now_ms: int) -> Made:
    from dashboards.paper.handover import handover_record  # brings the survey's models along

    if not isinstance(store, Reader):
        raise PaperAskedError("This record is made at the site itself.", "Ask whoever fitted it.")
    line_id = desk.line.line_id
    page = Notebook(store.path).page(line_id, now_ms)
    if not page.begun_ms:
        raise PaperAskedError("This line was not fitted with the page Fitting.", "Open /fit.")
    events = store.events(line_id, to_ms=now_ms + 1)
    sheet = handover_record(desk, page, events, store.latest_estimate(line_id))
    return _pdf(pdf_of(sheet), desk, f"handover-{_day(desk, page.begun_ms)}")


def _chosen(found: tuple[Cartridge, ...], wanted: Wanted) -> int:
    if not found:
        raise PaperAskedError(
            "No cartridge has been entered for this line.", "Write down when it was fitted."
        )
    place = wanted.cartridge if wanted.cartridge >= 0 else len(found) + wanted.cartridge
    if not 0 <= place < len(found):
        raise PaperAskedError(
            f"There is no cartridge {wanted.cartridge}.", f"There are 0 to {len(found) - 1}."
        )
    return place


def _report(store: SiteReader, desk: Desk, wanted: Wanted, now_ms: int) -> Made:
    local = desk.setup.local_time
    try:
        if wanted.kind == "month":
            span = month_span(local, wanted.year, wanted.month)
            name = f"{wanted.year}-{wanted.month:02}"
        else:
            span, name = year_span(local, wanted.year), str(wanted.year)
    except (ValueError, OverflowError) as exc:
        raise PaperAskedError(
            f"There is no {wanted.kind} {wanted.year}-{wanted.month}.", "Write year=2026&month=4."
        ) from exc
    line_id = desk.line.line_id
    record = record_of(store, desk.setup, desk.line, span, now_ms)
    events = store.events(line_id, span.from_ms, span.to_ms)
    found = cartridges(store, line_id, now_ms)
    sheet = period_report(desk, wanted.kind, record, events, found)
    return _pdf(pdf_of(sheet), desk, f"report-{name}")


def _change(
    store: SiteReader, desk: Desk, found: tuple[Cartridge, ...], place: int, now_ms: int
) -> Made:
    new, old = found[place], found[place - 1] if place else None
    start = new.fitted.at_ms - BEFORE_MS
    if old is not None:
        start = max(start, old.fitted.at_ms)
    end = min(new.fitted.at_ms + AFTER_MS, max(now_ms, new.fitted.at_ms + HOUR_MS))
    span = Span(from_ms=start, to_ms=end)
    record = record_of(store, desk.setup, desk.line, span, now_ms)
    events = store.events(desk.line.line_id, to_ms=end)
    sheet = change_record(desk, old, new, record, events)
    return _pdf(pdf_of(sheet), desk, f"change-{_day(desk, new.fitted.at_ms)}")


def _evidence(store: SiteReader, desk: Desk, cartridge: Cartridge, now_ms: int) -> Made:
    start = cartridge.fitted.at_ms
    end = now_ms if cartridge.until_ms is None else cartridge.until_ms
    span = Span(from_ms=start, to_ms=max(end, start + DAY_MS))
    line_id = desk.line.line_id
    known = Known(
        cartridge=cartridge,
        record=record_of(store, desk.setup, desk.line, span, now_ms),
        estimates=store.estimates_as_stored(line_id, span.from_ms, span.to_ms),
        events=store.events(line_id, span.from_ms - DAY_MS, span.to_ms),
        chain=verify_chain(store.logbook()),
    )
    files = csv_files(known)
    pdf = pdf_of(evidence_sheet(desk, known, files))
    name = f"{desk.setup.site_id}-{line_id}-evidence-{_day(desk, start)}.zip"
    return Made(body=bundle(pdf, files, known), kind="application/zip", file_name=name)


def _pdf(body: bytes, desk: Desk, what: str) -> Made:
    name = f"{desk.setup.site_id}-{desk.line.line_id}-{what}.pdf"
    return Made(body=body, kind="application/pdf", file_name=name)


def _day(desk: Desk, at_ms: int) -> str:
    return desk.when.day(at_ms).isoformat()
