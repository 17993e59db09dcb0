"""The record of a cartridge change: what was taken out and how it stood, what was put in."""

from __future__ import annotations

from analytics.samples import DAY_MS, AnyEvent, Estimate, Spread
from dashboards.history.record import Record
from dashboards.paper.common import Desk, care_row, course_row, log_row, place_row, sheet_of
from dashboards.paper.facts import Cartridge, bypass_set, drop_tests
from dashboards.paper.sheet import Facts, Row, Sheet, Signatures, Words
from dashboards.phrases.reader import Reader

PAST = 0.5
EARLY = 0.25
BEFORE_MS = 45 * DAY_MS
AFTER_MS = 10 * DAY_MS
"""The course that is shown before and after the change."""


def change_record(
    desk: Desk, old: Cartridge | None, new: Cartridge, record: Record, events: list[AnyEvent]
) -> Sheet:
    """The sheet; `record` is the course around the change, `events` those of its time."""
    say = desk.reader.say
    span = record.span
    days = desk.when.days_range(desk.when.day(span.from_ms), desk.when.day(span.to_ms - 1))
    tested = [e for e in drop_tests(events) if e.at_ms >= new.fitted.at_ms]
    rows = [place_row(desk)]
    if old is not None:
        rows.append(_old_row(desk, old))
    rows.append(_new_row(desk, new, events))
    rows.append(course_row(desk, record, days))
    rows.append(log_row(desk, [e for e in events if e.at_ms >= new.fitted.at_ms - DAY_MS]))
    if not tested:
        rows.append(Row(title=say("paper.row.tests"), blocks=(Words(text=say("paper.no-tests")),)))
    rows.append(care_row(desk))
    under = (say("paper.sign.changed"), say("paper.sign.taken"))
    rows.append(Row(title=say("paper.row.sign"), blocks=(Signatures(under=under),)))
    return sheet_of(desk, "paper.change", _sentence(desk, old, new), tuple(rows))


def _sentence(desk: Desk, old: Cartridge | None, new: Cartridge) -> str:
    say = desk.reader.say
    day = desk.when.long(desk.when.day(new.fitted.at_ms))
    worn = old.most_used if old else None
    if worn is None or worn.used_share is None:
        return say("paper.said.change", day=day)
    left = 1.0 - worn.used_share.p50
    if worn.end_probability >= PAST and worn.end_ms is not None:
        late = round((new.fitted.at_ms - worn.end_ms.p50) / DAY_MS)
        if late >= 1:
            return say("paper.said.past", day=day, n=late)
    if left > EARLY:
        return say("paper.said.early", day=day, share=desk.reader.share(left))
    return say("paper.said.change", day=day)


def _old_row(desk: Desk, old: Cartridge) -> Row:
    say, reader = desk.reader.say, desk.reader
    worn = old.most_used
    rows = [
        (say("paper.serial"), old.fitted.cartridge_id),
        (say("paper.fitted"), desk.when.long(desk.when.day(old.fitted.at_ms))),
        (say("paper.was-in"), say("paper.days", n=round(old.days or 0.0))),
        *(stood(worn, reader) if worn else [(say("paper.used"), say("paper.not-known"))]),
    ]
    return Row(title=say("paper.row.old"), blocks=(Facts(rows=tuple(r for r in rows if r[1])),))


def stood(worn: Estimate, reader: Reader) -> list[tuple[str, str]]:
    say = reader.say
    rows = [(say("paper.passed"), reader.passed(worn.litres_passed))]
    if worn.used_share is not None:
        rows.append((say("paper.used"), share_words(worn.used_share, reader)))
    if worn.remaining_l is not None:
        rows.append((say("paper.left"), reader.volume(worn.remaining_l).full))
    if worn.outlet_mmol_l is not None:
        rows.append((say("paper.outlet"), reader.hardness(worn.outlet_mmol_l).full))
    return rows


def share_words(share: Spread, reader: Reader) -> str:
    """A used share with its range; beyond the end it is more than the whole."""
    low, middle, high = (f"{100 * v:.0f}" for v in (share.p05, share.p50, share.p95))
    return f"{middle}\u202f% ({low}\u2013{high})"


def _new_row(desk: Desk, new: Cartridge, events: list[AnyEvent]) -> Row:
    say, reader = desk.reader.say, desk.reader
    fitted = new.fitted
    bypass = bypass_set(events, desk.line, fitted.at_ms + DAY_MS)
    moment = f"{desk.when.long(desk.when.day(fitted.at_ms))}, {desk.when.clock(fitted.at_ms)}"
    rows = [
        (say("paper.serial"), fitted.cartridge_id),
        (say("paper.fitted"), moment),
        (say("paper.who"), fitted.who),
        (say("paper.remark"), fitted.note),
        (say("paper.bypass"), reader.share(bypass)),
    ]
    end = new.last.end_ms if new.last and new.until_ms is None else None
    if end is not None:
        when = desk.when
        days = when.days_range(when.day(end.p05), when.day(end.p95))
        rows.append((say("paper.next"), f"{when.long(when.day(end.p50))} ({days})"))
    return Row(title=say("paper.row.new"), blocks=(Facts(rows=tuple(r for r in rows if r[1])),))
