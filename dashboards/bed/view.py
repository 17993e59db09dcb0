"""What the bed profile shows, with every figure already in words: facts in, a struct out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial

import msgspec

from analytics.bed import exchanges
from analytics.opening import opens_on
from analytics.samples import DAY_MS, Estimate, Spread
from analytics.setup import Closures, Opening
from dashboards.bed.ruler import YEAR, Ruler, ruler
from dashboards.bed.said import description
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.sources import LineFacts
from dashboards.state import State, is_past


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """A block of words beside the bed: a title, the figure, and its range or date."""

    title: str
    lines: tuple[str, ...]


class Channel(msgspec.Struct, frozen=True, kw_only=True):
    """The bypass: its share, its words, and whether the share is an estimate or only a setting."""

    share: float
    text: str
    range_text: str
    estimated: bool
    differs: str = ""


class BedView(msgspec.Struct, frozen=True, kw_only=True):
    """All that is drawn. `front` is (5 %, median, 95 %) of the used share; None: not known."""

    rows: tuple[float, ...]
    front: tuple[float, float, float] | None
    past: bool
    title: str
    description: str
    raw: tuple[str, str] | None
    out: tuple[str, str] | None
    front_words: Words | None
    spent: Words | None
    fresh: Words | None
    past_words: Words | None
    past_short: tuple[str, ...]
    ruler: Ruler | None
    after: str
    end_note: str
    today: str
    channel: Channel | None
    goes_round: str
    stale: str
    blind: tuple[str, ...]
    no_bed: str
    medium: str


def bed_view(
    line: LineFacts,
    state: State,
    reader: Reader,
    when: When,
    opening: Opening,
) -> BedView:
    """The bed of a line as it stands in this state."""
    estimate = line.estimate
    used = estimate.used_share if estimate else None
    known = used is not None and exchanges(line.setup.medium)
    past = estimate is not None and is_past(estimate, when.now_ms)
    end = _ruler(estimate, when, partial(opens, opening, line.closures, when))
    return BedView(
        rows=estimate.used_rows if estimate and known else (),
        front=(used.p05, used.p50, used.p95) if used and known else None,
        past=past and known,
        title=reader.say("bed.title"),
        description=description(line, state, reader, when),
        raw=_water("bed.raw", estimate.raw_mmol_l if estimate else None, reader),
        out=_water("bed.out", estimate.outlet_mmol_l if estimate else None, reader),
        front_words=_front_words(used, reader) if used and known else None,
        spent=_spent_words(line, reader, when) if known else None,
        fresh=_fresh_words(estimate, reader),
        past_words=_past_words(estimate, reader, when) if past else None,
        past_short=_past_short(estimate, reader, when) if past else (),
        ruler=None if past else end,
        after=reader.say("bed.after", month=_year_on(when)) if end and end.beyond else "",
        end_note=_end_note(estimate, reader),
        today=reader.say("bed.today"),
        channel=_channel(line, estimate, reader),
        goes_round=reader.say("bed.round"),
        stale=_stale(line, state, reader, when),
        blind=() if line.sees_medium else (reader.say("bed.blind"), reader.say("bed.blind-2")),
        no_bed=_no_bed(line, reader),
        medium=line.setup.medium,
    )


def _water(key: str, spread: Spread | None, reader: Reader) -> tuple[str, str] | None:
    if spread is None:
        return None
    figure = reader.hardness(spread)
    return reader.say(key, value=figure.text), figure.bracketed


def _front_words(used: Spread, reader: Reader) -> Words:
    low, high = 1 - used.p95, 1 - used.p05
    left = reader.say("bed.left", share=reader.share(1 - used.p50))
    ends = f"{_number(reader.share(low))}–{reader.share(high)}"
    return Words(title=reader.say("bed.front"), lines=(left, ends))


def _number(share_text: str) -> str:
    return share_text.removesuffix(f"{THIN}%")


def _spent_words(line: LineFacts, reader: Reader, when: When) -> Words | None:
    estimate = line.estimate
    if estimate is None or estimate.litres_passed < 1:
        return None
    passed = reader.passed(estimate.litres_passed)
    lines = [reader.say("bed.passed", litres=passed)]
    if line.fitted_ms is not None:
        lines.append(reader.say("bed.since", day=when.brief_medium(when.day(line.fitted_ms))))
    return Words(title=reader.say("bed.spent"), lines=tuple(lines))


def _fresh_words(estimate: Estimate | None, reader: Reader) -> Words | None:
    if estimate is None or estimate.remaining_l is None:
        return None
    figure = reader.volume(estimate.remaining_l)
    ends = f"{figure.joined}{THIN}{figure.unit}"
    return Words(title=reader.say("bed.fresh"), lines=(figure.text, ends))


def _past_words(estimate: Estimate | None, reader: Reader, when: When) -> Words:
    lines: tuple[str, ...] = ()
    if estimate is not None and estimate.end_ms is not None:
        end = estimate.end_ms
        days = when.brief_range(when.day(end.p05), when.day(end.p95))
        lines = (reader.say("bed.ran-out", day=when.medium(when.day(end.p50))), f"({days})")
    return Words(title=reader.say("bed.past"), lines=lines)


def _past_short(estimate: Estimate | None, reader: Reader, when: When) -> tuple[str, ...]:
    if estimate is None or estimate.end_ms is None:
        return ()
    first, likely, last = (
        when.day(at) for at in (estimate.end_ms.p05, estimate.end_ms.p50, estimate.end_ms.p95)
    )
    day = reader.say("bed.ran-out", day=when.brief(likely))
    return day, f"({when.brief_range(first, last)})"


def opens(opening: Opening, closures: Closures, when: When, day: date) -> bool:
    """Whether the place opens on a day."""
    return opens_on(opening, closures, day.weekday(), when.midnight(day) + DAY_MS // 2)


def _ruler(estimate: Estimate | None, when: When, is_open: Callable[[date], bool]) -> Ruler | None:
    if estimate is None or estimate.end_ms is None:
        return None
    return ruler(estimate.end_ms, when, is_open, fixed=estimate.ends_by == "time")


def _year_on(when: When) -> str:
    return when.month(when.day(when.now_ms + YEAR * DAY_MS))


def _end_note(estimate: Estimate | None, reader: Reader) -> str:
    key = f"bed.by-{estimate.ends_by}" if estimate else ""
    return reader.say(key) if reader.has(key) else ""


def _channel(line: LineFacts, estimate: Estimate | None, reader: Reader) -> Channel | None:
    setting = line.bypass_set if line.bypass_set is not None else line.setup.bypass
    spread = estimate.bypass if estimate else None
    if spread is None:
        if setting <= 0:
            return None
        return Channel(share=setting, text=reader.share(setting), range_text="", estimated=False)
    if spread.p50 < 0.005 and setting <= 0:
        return None
    differs = not spread.p05 <= setting <= spread.p95
    words = {"set": reader.share(setting), "works": reader.share(spread.p50)}
    return Channel(
        share=spread.p50,
        text=reader.share(spread.p50),
        range_text=f"({_number(reader.share(spread.p05))}–{_number(reader.share(spread.p95))})",
        estimated=True,
        differs=reader.say("bed.set-works", **words) if differs else "",
    )


def _no_bed(line: LineFacts, reader: Reader) -> str:
    medium = line.setup.medium
    return reader.say(f"bed.no-bed.{medium}") if not exchanges(medium) else ""


def _stale(line: LineFacts, state: State, reader: Reader, when: When) -> str:
    if state is not State.SILENT or line.last_row_ms is None:
        return ""
    return reader.say("bed.as-of", moment=when.moment(line.last_row_ms))
