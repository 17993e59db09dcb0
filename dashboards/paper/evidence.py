"""Everything known of one cartridge in one file: a paper and the CSVs it rests on.

For a warranty question without any fleet. Estimates stand as they were known at the time; each file
has its SHA-256 in the paper and in `manifest.json`, the logbook its chain.
"""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile
from collections.abc import Iterable, Sequence
from importlib.metadata import version

import msgspec

from analytics.samples import AnyEvent, Estimate
from dashboards.history.record import Record
from dashboards.history.table import iso, table
from dashboards.paper.change import stood
from dashboards.paper.common import (
    Desk,
    alarms_row,
    care_row,
    course_row,
    gaps_row,
    log_row,
    place_row,
    sheet_of,
)
from dashboards.paper.facts import Cartridge, bypass_set, calibrations
from dashboards.paper.sheet import Facts, Row, Sheet, Table, Words
from firmware_bridge.export import safe as harmless
from firmware_bridge.store.chain import Chain
from firmware_bridge.store.events import kind_of

SAME_DAY = (1980, 1, 1, 0, 0, 0)
"""Files in the bundle carry no time of their own, so that the same facts give the same bytes."""


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What a bundle is made from."""

    cartridge: Cartridge
    record: Record
    estimates: Sequence[Estimate]
    events: list[AnyEvent]
    chain: Chain


def csv_files(known: Known) -> dict[str, bytes]:
    """The CSVs by name."""
    return {
        "days.csv": table(known.record).encode(),
        "estimates.csv": _csv(_ESTIMATE_HEAD, map(_estimate_row, known.estimates)),
        "logbook.csv": _csv(_EVENT_HEAD, map(_event_row, known.events)),
        "alarms.csv": _csv(_ALARM_HEAD, _alarm_rows(known.record)),
        "gaps.csv": _csv(_GAP_HEAD, _gap_rows(known.record)),
    }


def evidence_sheet(desk: Desk, known: Known, files: dict[str, bytes]) -> Sheet:
    """The paper of the bundle."""
    say, when = desk.reader.say, desk.when
    span = known.record.span
    days = when.days_range(when.day(span.from_ms), when.day(span.to_ms - 1))
    rows = (
        place_row(desk),
        _cartridge_row(desk, known),
        course_row(desk, known.record, days),
        _meters_row(desk, known),
        alarms_row(desk, known.record),
        gaps_row(desk, known.record),
        log_row(desk, known.events),
        _proof_row(desk, known, files),
        care_row(desk),
    )
    day = when.long(when.day(known.cartridge.fitted.at_ms))
    return sheet_of(desk, "paper.evidence", say("paper.said.evidence", day=day), rows)


def bundle(pdf: bytes, files: dict[str, bytes], known: Known) -> bytes:
    """The paper, the CSVs and their digests as one ZIP."""
    whole = {"evidence.pdf": pdf, **files}
    manifest = {
        "program": version("lastlitre"),
        "cartridge": known.cartridge.fitted.cartridge_id,
        "fitted": _iso(known.cartridge.fitted.at_ms),
        "logbook_head": known.chain.head,
        "files": {name: digest(body) for name, body in whole.items()},
    }
    whole["manifest.json"] = msgspec.json.format(msgspec.json.encode(manifest), indent=2)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, body in whole.items():
            packed.writestr(zipfile.ZipInfo(name, SAME_DAY), body, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def spaced(hexadecimal: str) -> str:
    """In groups of sixteen, that a line of a paper can break between."""
    return " ".join(hexadecimal[n : n + 16] for n in range(0, len(hexadecimal), 16))


def digest(body: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(body).hexdigest()


def _cartridge_row(desk: Desk, known: Known) -> Row:
    say, when, cartridge = desk.reader.say, desk.when, known.cartridge
    worn = cartridge.most_used
    out = cartridge.until_ms
    rows = [
        (say("paper.serial"), cartridge.fitted.cartridge_id),
        (say("paper.fitted"), when.long(when.day(cartridge.fitted.at_ms))),
        (say("paper.out"), say("paper.this") if out is None else when.long(when.day(out))),
        (say("paper.bypass"),
         desk.reader.share(bypass_set(known.events, desk.line, known.record.span.to_ms))),
        *(stood(worn, desk.reader) if worn else []),
    ]  # fmt: skip
    return Row(
        title=say("paper.row.cartridge"), blocks=(Facts(rows=tuple(r for r in rows if r[1])),)
    )


def _meters_row(desk: Desk, known: Known) -> Row:
    say = desk.reader.say
    found = calibrations(known.events, known.record.span.to_ms)
    title = say("paper.row.meters")
    if not found:
        return Row(title=title, blocks=(Words(text=say("paper.no-meters")),))
    rows = tuple(
        (
            say(f"act.{kind_of(event)}"),
            desk.when.brief(desk.when.day(event.at_ms)),
            say("paper.days", n=round(age)),
        )
        for event, age in found
    )
    head = (say("paper.head.what"), say("paper.head.date"), say("paper.head.age"))
    return Row(title=title, blocks=(Table(head=head, rows=rows),))


def _proof_row(desk: Desk, known: Known, files: dict[str, bytes]) -> Row:
    say, chain = desk.reader.say, known.chain
    told = (
        say("paper.evidence.chain-broken", number=chain.broken_at)
        if chain.broken_at
        else say("paper.evidence.chain-whole", entries=chain.entries, head=chain.head[:16])
    )
    head = (say("paper.head.file"), say("paper.head.digest"))
    return Row(
        title=say("paper.row.proof"),
        blocks=(
            Words(text=say("paper.evidence.as-known")),
            Words(text=told),
            Facts(rows=((say("paper.evidence.program"), version("lastlitre")),)),
            Table(
                head=head,
                rows=tuple((name, spaced(digest(body))) for name, body in files.items()),
                wide=1,
            ),
        ),
    )


_ESTIMATE_HEAD = (
    "at", "known_at", "litres_passed_L", "used_share", "used_share_p05", "used_share_p95",
    "remaining_L", "remaining_L_p05", "remaining_L_p95", "outlet_hardness_mmol_L",
    "outlet_hardness_mmol_L_p05", "outlet_hardness_mmol_L_p95", "end_probability", "trusted",
    "rests_on_litres", "rests_on_conductivity", "rests_on_drop_tests",
)  # fmt: skip
_EVENT_HEAD = ("at", "known_at", "kind", "who", "note", "figures")
_ALARM_HEAD = ("from", "until", "alarm", "priority")
_GAP_HEAD = ("from", "until", "what")


def _estimate_row(e: Estimate) -> list[object]:
    spreads = (e.used_share, e.remaining_l, e.outlet_mmol_l)
    figures = [v for s in spreads for v in ((s.p50, s.p05, s.p95) if s else ("", "", ""))]
    rests = (e.rests_on.litres, e.rests_on.conductivity, e.rests_on.drop_tests)
    return [
        _iso(e.at_ms), _iso(e.known_at_ms), e.litres_passed, *figures, e.end_probability,
        int(e.trusted), *rests,
    ]  # fmt: skip


def _event_row(event: AnyEvent) -> list[object]:
    common = {"at_ms", "line_id", "known_at_ms", "event_id", "who", "note", "kind"}
    fields = msgspec.to_builtins(event)
    figures = "; ".join(
        f"{k}={v}" for k, v in fields.items() if k not in common and v not in ("", None)
    )
    return [
        _iso(event.at_ms),
        _iso(event.known_at_ms),
        kind_of(event),
        event.who,
        event.note,
        figures,
    ]


def _alarm_rows(record: Record) -> Iterable[list[object]]:
    for alarm in record.alarms:
        until = "" if alarm.until_ms is None else _iso(alarm.until_ms)
        yield [_iso(alarm.from_ms), until, alarm.alarm, alarm.priority]


def _gap_rows(record: Record) -> Iterable[list[object]]:
    for gap in record.gaps:
        yield [_iso(gap.from_ms), _iso(gap.until_ms), gap.what]


def _csv(head: Sequence[str], rows: Iterable[list[object]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([safe(v) for v in row])
    return out.getvalue().encode()


def safe(value: object) -> object:
    """A cell that no table program takes for a formula; figures in full."""
    if isinstance(value, float):
        return f"{value:.6g}"
    return harmless(value) if isinstance(value, str) else value


def _iso(at_ms: int) -> str:
    if not at_ms:
        return ""  # an entry of the site file: known from the first start on
    return iso(at_ms)
