"""What follows from fresh rows for the work: lines, alarms, cartridges, events and their names.

All of it is read and written under the site's lock, in the step that keeps the rows themselves, so
the pages never show what the record does not have. Newest wins, by the site's own numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
from sqlalchemy import BigInteger, Text, case, delete, insert, select, update

from analytics.errors import StoreFailing
from firmware_bridge.fleet.ingest.cartridges import follow_cartridges, serve, sized
from firmware_bridge.fleet.ingest.messages import Heard, Refused
from firmware_bridge.fleet.ingest.newest import (
    EMPTY,
    NORMAL,
    LineNow,
    alarm_rows,
    finish,
    line_now,
    lines_of,
    stands,
    take_card,
    take_row,
)
from firmware_bridge.fleet.ingest.persons import numbers_of, without_name
from firmware_bridge.fleet.ingest.rows import Fresh
from firmware_bridge.fleet.ingest.step import Known, Params, Step
from firmware_bridge.fleet.records.tables import alarms, doubts, events, lines, sites
from firmware_bridge.forward.payloads import BatchRow, Card, Now

QUICK = ("reading", "draw")
"""Kinds whose newest row stands in columns of its own."""
MOST_LINES = 50
"""A site has no more lines than this; what it says of further ones goes aside."""
DOUBTFUL = frozenset(
    (
        "fault-found", "outlet-probe-failure", "inlet-probe-failure", "flow-meter-failure",
        "clock-unsure", "data-gap",
    )
)  # fmt: skip
"""Alarms that say that a site's data cannot all be right; told as doubts too."""

_write = msgspec.json.Encoder()

Told = tuple[Known, list[Fresh], Heard]
Lines = dict[tuple[int, str], LineNow]


def lines_known(step: Step, known: Sequence[Known]) -> Lines:
    """The lines of these sites as they are kept."""
    if not known:
        return {}
    numbers = [each.site_no for each in known]
    asked = select(lines).where(step.records.among(lines.c.site_no, numbers))
    return {
        (row["site_no"], row["line"]): line_now(str(row["line"]), dict(row))
        for row in step.connection.execute(asked).mappings()
    }


def follow(step: Step, told: Sequence[Told], there: dict[int, set[str]]) -> None:
    """Bring all that follows from fresh rows, cards and summaries up to date.

    `there` are the lines known to be kept already, by site; those that are made are added. Most
    steps bring readings and draws of such lines only, which need no look at the rest.
    """
    grave = [each for each in told if _touches_more(each, there)]
    changed: Lines = {}
    kept = lines_known(step, [known for known, _, _ in grave])
    kept |= boxes_known(
        step, [known.site_no for known, fresh, said in grave if _of_box(fresh, said)]
    )
    for known, fresh, heard in grave:
        _card(step, known, heard.card, kept, changed)
        for line in _events(step, known, fresh):
            follow_cartridges(step, known.site_no, _line(known, line, kept, changed))
        for each in fresh:
            if each.kind == "alarm" or (each.line and each.kind != "event"):
                now = _line(known, each.line, kept, changed)
                rows = each.rows if each.kind == "alarm" else (each.newest,)
                for row in rows:
                    take_row(now, each.kind, row)
        for summary in (heard.nows[line] for line in heard.nows.keys() - heard.same):
            _summary(known, summary, kept, changed)
    _alarms(step, changed)
    serve(step, _estimates(grave))
    _write_lines(step, changed)
    for site_no, line in (*kept, *changed):
        if line:
            there.setdefault(site_no, set()).add(line)
    for kind in QUICK:
        _quick(step, told, kind, there)


def _of_box(fresh: Sequence[Fresh], said: Heard) -> bool:
    """Whether something is told of the box itself."""
    return any(not each.line for each in fresh) or "" in said.nows


def boxes_known(step: Step, numbers: Sequence[int]) -> Lines:
    """What is kept of the boxes of these sites, in the form of a line without a name."""
    if not numbers:
        return {}
    asked = select(sites.c.site_no, sites.c.newest).where(
        step.records.among(sites.c.site_no, numbers)
    )
    return {
        (row.site_no, ""): line_now("", dict(EMPTY, line_no=None, newest=row.newest))
        for row in step.connection.execute(asked)
    }


def _touches_more(told: Told, there: dict[int, set[str]]) -> bool:
    """Whether more than the newest reading and draw of known lines changes."""
    known, fresh, heard = told
    if heard.card is not None or heard.nows.keys() - heard.same:
        return True
    of_site = there.get(known.site_no, ())
    return any(each.kind not in QUICK or each.line not in of_site for each in fresh)


def _quick(step: Step, told: Sequence[Told], kind: str, there: dict[int, set[str]]) -> None:
    """The newest reading, or draw, of every line that told of one."""
    newest: dict[tuple[int, str], BatchRow] = {}
    for known, fresh, heard in told:
        rows = [(each.line, each.newest) for each in fresh if each.kind == kind]
        rows += [(now.line, now.newest[kind]) for now in heard.nows.values() if kind in now.newest]
        for line, row in rows:
            place = (known.site_no, line)
            if line and (place not in newest or newest[place].seq < row.seq):
                newest[place] = row
    given = [
        {
            "site_no": site_no, "line": line, "seq": row.seq, "at_ms": row.at_ms,
            "body": _write.encode(row).decode(),
        }
        for (site_no, line), row in newest.items()
    ]  # fmt: skip
    if given and step.connection.execute(_newer(step, kind, given)).rowcount < len(given):
        raise StoreFailing("a line is not in the records any more", "It is made again.")


def _newer(step: Step, kind: str, given: Params) -> Any:
    """Let the newer of two rows stand."""
    new = step.records.given(
        given, site_no=BigInteger, line=Text, seq=BigInteger, at_ms=BigInteger, body=Text
    )
    number = lines.c[f"{kind}_seq"]
    names_ = {kind: new.c.body, f"{kind}_ms": new.c.at_ms, f"{kind}_seq": new.c.seq}
    values = {
        name: case((new.c.seq > number, value), else_=lines.c[name])
        for name, value in names_.items()
    }
    here = (lines.c.site_no == new.c.site_no) & (lines.c.line == new.c.line)
    return update(lines).where(here).values(values)


def over_lines(step: Step, known: Known, heard: Heard) -> None:
    """Put aside what is said of more lines than a site can have."""
    asked = select(lines.c.line).where(lines.c.site_no == known.site_no)
    there = set(step.connection.scalars(asked))
    named = {batch.line for batch in heard.batches} | set(heard.nows)
    if len(there | named) <= MOST_LINES:
        return
    room = MOST_LINES - len(there)
    allowed = there | set(sorted(named - there)[: max(room, 0)])
    reason = f"the site has more than {MOST_LINES} lines"
    for batch in heard.batches:
        if batch.line not in allowed:
            step.aside.append(Refused(known.site, batch.topic, reason, batch.text))
    heard.batches = [batch for batch in heard.batches if batch.line in allowed]
    heard.nows = {line: now for line, now in heard.nows.items() if line in allowed}
    step.doubt(known, "flooding", lines=len(there | named))


def _line(known: Known, line: str, kept: Lines, changed: Lines) -> LineNow:
    place = (known.site_no, line)
    if place not in changed:
        changed[place] = kept.get(place) or line_now(line, None)
    return changed[place]


def _card(step: Step, known: Known, card: Card | None, kept: Lines, changed: Lines) -> None:
    if card is None:
        return
    for line, told in list(lines_of(card).items())[:MOST_LINES]:
        now = _line(known, line, kept, changed)
        before = dict(now.columns)
        take_card(now, told)
        if now.columns != before:
            sized(step, known.site_no, now)


def _summary(known: Known, summary: Now, kept: Lines, changed: Lines) -> None:
    if not summary.line and not summary.alarms:
        return
    now = _line(known, summary.line, kept, changed)
    if summary.line and "estimate" in summary.newest:
        take_row(now, "estimate", summary.newest["estimate"])
    for row in summary.alarms.values():
        take_row(now, "alarm", row)


def _estimates(told: Iterable[Told]) -> list[tuple[int, str, BatchRow]]:
    """The newest fresh estimate of every line."""
    return [
        (known.site_no, each.line, each.newest)
        for known, fresh, _ in told
        for each in fresh
        if each.kind == "estimate"
    ]


def _write_lines(step: Step, changed: Lines) -> None:
    new: Params = []
    old: Params = []
    for (site_no, line), now in changed.items():
        row = finish(now)
        if not line:
            here = update(sites).where(sites.c.site_no == site_no)
            step.connection.execute(here.values(newest=row["newest"]))
        elif now.line_no is None:
            new.append({"site_no": site_no, "line": line, "reading": "", "draw": "", **row})
        else:
            old.append({"no": now.line_no, **row})
    step.many(insert(lines), new)
    if old:
        types = {name: lines.c[name].type for name in COLUMNS}
        given = step.records.given(old, no=BigInteger, **types)
        values = {name: given.c[name] for name in COLUMNS}
        step.connection.execute(update(lines).where(lines.c.line_no == given.c.no).values(values))


COLUMNS = (*EMPTY, "newest")


def _alarms(step: Step, changed: Lines) -> None:
    """Alarms that are not normal, with the instant since when; the others are no longer listed."""
    for (site_no, line), now in changed.items():
        if not now.alarms_changed:
            continue
        here = (alarms.c.site_no == site_no) & (alarms.c.line == line)
        since = dict(
            step.connection.execute(select(alarms.c.alarm, alarms.c.since_ms).where(here)).all()
        )
        step.connection.execute(delete(alarms).where(here))
        rows = [row for row in alarm_rows(now) if row.words.get("state", NORMAL) != NORMAL]
        step.many(insert(alarms), [_alarm(site_no, line, row, since) for row in rows])
        _doubtful(step, site_no, line, rows)


def _alarm(site_no: int, line: str, row: BatchRow, since: dict[str, Any]) -> dict[str, Any]:
    name = row.words.get("alarm", "")
    return {
        "site_no": site_no, "line": line, "alarm": name, "state": row.words.get("state", ""),
        "priority": row.words.get("priority", ""), "since_ms": since.get(name, row.at_ms),
        "at_ms": row.at_ms, "seq": row.seq, "body": _write.encode(row).decode(),
    }  # fmt: skip


def _doubtful(step: Step, site_no: int, line: str, rows: list[BatchRow]) -> None:
    """Alarms that say that the data contradict themselves are doubts while they stand."""
    standing = {row.words["alarm"]: row for row in rows if stands(row)}
    told = {name: row for name, row in standing.items() if name in DOUBTFUL}
    gone = DOUBTFUL - set(told)
    here = (doubts.c.site_no == site_no) & (doubts.c.line == line) & doubts.c.doubt.in_(gone)
    step.connection.execute(delete(doubts).where(here))
    rows_ = [
        {
            "site_no": site_no, "line": line, "doubt": name, "since_ms": row.at_ms,
            "body": _write.encode({"word": row.words.get("word", ""), **row.numbers}).decode(),
        }
        for name, row in told.items()
    ]  # fmt: skip
    step.many(step.records.upsert(doubts, ("site_no", "line", "doubt"), ("body",)), rows_)


def _events(step: Step, known: Known, fresh: list[Fresh]) -> list[str]:
    """What people did, names apart, so that a name can be erased; the lines it was about."""
    told = [(each.line, row) for each in fresh if each.kind == "event" for row in each.rows]
    if not told:
        return []
    whose = numbers_of(step, known, [row for _, row in told])
    rows = [
        {
            "site_no": known.site_no, "era": known.era, "seq": row.seq, "line": line,
            "at_ms": row.at_ms, "kind": row.words.get("event", ""),
            "body": _write.encode(without_name(row)).decode(),
            "name_no": whose.get(row.words.get("who", "")),
        }
        for line, row in told
    ]  # fmt: skip
    step.many(insert(events), rows)
    return sorted({line for line, _ in told if line})
