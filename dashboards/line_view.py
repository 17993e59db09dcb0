"""One line of a site in words and drawings: what the page Now shows of it."""

from __future__ import annotations

import zlib

import msgspec
from markupsafe import Markup

from dashboards.bed.view import BedView, bed_view
from dashboards.bed_profile import PHONE, WIDE, bead_definitions, bed_svg
from dashboards.charts import Bar, EvidenceView, StripView, evidence, strip, week
from dashboards.figures import HARDNESS_NAMES, Shown, litres_spread, rows_of_line
from dashboards.page import Asked
from dashboards.phrases.alarm_words import alarm_words
from dashboards.phrases.headlines import Headline, hardness_of_test, headline
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.phrases.remarks import remark_words, sharpener_words, told
from dashboards.phrases.times import When
from dashboards.signs import drops, glass
from dashboards.sources import LineFacts
from dashboards.state import GLASS, State

WIDE_WEEK, PHONE_WIDTH, WIDE_STRIP, WIDE_EVIDENCE = 470, 358, 470, 760


class AlarmRow(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that is not normal."""

    sign: Markup
    priority: str
    change: str
    text: str
    since: str


class Sizes(msgspec.Struct, frozen=True, kw_only=True):
    """One drawing in both sizes."""

    wide: Markup
    phone: Markup


class LineView(msgspec.Struct, frozen=True, kw_only=True):
    """Everything shown of one line, in words and drawings."""

    line_id: str
    version: str
    sign: Markup
    word: str
    word_key: str
    as_of: tuple[str, str] | None
    headline: Headline
    left: str
    table: tuple[Shown, ...]
    today: Shown
    beads: Markup
    bed: Sizes | None
    bed_said: str
    week: Sizes | None
    week_said: str
    strip: Sizes | None
    strip_said: str
    outlet: Shown
    alarms: tuple[AlarmRow, ...]
    evidence: Sizes | None
    shares: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]
    sharpen: tuple[str, ...]
    last_test: str
    care: tuple[str, ...]
    cartridge: str


def line_view(line: LineFacts, state: State, asked: Asked) -> LineView:
    """One line in words and drawings."""
    reader, when, setup = asked.reader, asked.when, asked.facts.setup
    bed = bed_view(line, state, reader, when, setup.opening)
    rows = rows_of_line(line, reader, when)
    bars, week_said = _week(line, reader, when)
    outlet_strip = _strip(line, reader)
    shares = _shares(line, reader)
    return LineView(
        line_id=line.setup.line_id,
        version=version(line, state, when),
        sign=glass(GLASS[state], 92),
        word=reader.say(f"state.{GLASS[state]}"),
        word_key=GLASS[state],
        as_of=as_of(line, reader, when),
        headline=headline(line, state, reader, when),
        left=_left(line, state, reader),
        table=tuple(r for r in rows if r.key not in _shown_apart(outlet_strip)),
        today=next(r for r in rows if r.key == "today"),
        beads=Markup(bead_definitions(bed)),
        bed=_bed(bed),
        bed_said=bed.description,
        week=bars,
        week_said=week_said,
        strip=outlet_strip,
        strip_said=reader.say("water.window" if _limit(line) else "water.no-window"),
        outlet=rows[0],
        alarms=tuple(_alarms(line, reader, when)),
        evidence=_evidence(line, reader),
        shares=shares,
        remarks=_remarks(line, state, reader, when),
        sharpen=sharpener_words(line.estimate.sharpeners if line.estimate else (), reader),
        last_test=_last_test(line, reader, when),
        care=_care(line, reader),
        cartridge=_cartridge(line, reader, when),
    )


def _shown_apart(outlet_strip: Sizes | None) -> tuple[str, ...]:
    """Figures that stand elsewhere on the page."""
    return ("today",) if outlet_strip is None else ("today", "outlet")


def _bed(view: BedView) -> Sizes | None:
    """The profile in both sizes; a dosing device has none, only its caution."""
    if view.medium == "polyphosphate":
        return None
    return Sizes(wide=Markup(bed_svg(view, WIDE)), phone=Markup(bed_svg(view, PHONE)))


def version(line: LineFacts, state: State, when: When) -> str:
    """Changes whenever more than the live figures of a page has to be drawn anew."""
    known = line.estimate.known_at_ms if line.estimate else 0
    parts = (state.name, known, [(a.alarm, a.change) for a in line.alarms], when.today.isoformat())
    return f"{zlib.crc32(repr(parts).encode()):08x}"


def as_of(line: LineFacts, reader: Reader, when: When) -> tuple[str, str] | None:
    """The instant and the age of the estimate; None where there is none."""
    if line.estimate is None:
        return None
    at_ms = line.estimate.at_ms
    age = when.age(at_ms) if when.is_recent(at_ms) else ""
    return reader.say("page.as-of", moment=when.moment(at_ms)), age


def _left(line: LineFacts, state: State, reader: Reader) -> str:
    """Litres and days left with their ranges, where the headline promises them."""
    estimate = line.estimate
    if estimate is None or estimate.remaining_l is None or state not in (State.RIGHT, State.DUE):
        return ""
    days = reader.days(estimate.days_left) if estimate.days_left else None
    if state is State.DUE:
        return reader.say("litres.days", likely=days.value, days=days.joined) if days else ""
    figure = reader.volume(estimate.remaining_l)
    litres = f"{figure.joined}{THIN}{figure.unit}"
    if days is None:
        return reader.say("litres.left", litres=litres)
    return reader.say("litres.left-days", litres=litres, days=days.joined, likely=days.value)


def _week(line: LineFacts, reader: Reader, when: When) -> tuple[Sizes | None, str]:
    if not line.setup.flow_meter:
        return None, reader.say("litres.no-meter")
    bars = tuple(_bars(line, reader, when))
    counted = [d for d in line.days if d.litres is not None]
    total = sum(d.litres or 0.0 for d in counted)
    spread = litres_spread(total, sum(d.sd_l for d in counted))
    figure = reader.volume(spread)
    gaps = sum(d.litres is None and not d.shut for d in line.days)
    key = "litres.week-some" if gaps else "litres.week"
    said = reader.say(key, litres=figure.text, range=figure.bracketed, gaps=str(gaps))
    return Sizes(wide=week(bars, said, WIDE_WEEK), phone=week(bars, said, PHONE_WIDTH)), said


def _bars(line: LineFacts, reader: Reader, when: When) -> list[Bar]:
    out = []
    for place, day in enumerate(line.days):
        today = place == len(line.days) - 1
        name = reader.say("litres.today") if today else when.weekday(when.day(day.from_ms))
        if day.litres is None:
            over = reader.say("litres.shut" if day.shut else "litres.none")
        elif day.litres < 1 and day.shut:
            over = reader.say("litres.shut")
        else:
            over = reader.volume(litres_spread(day.litres, day.sd_l)).value
        out.append(Bar(day=name, litres=day.litres, over=over, today=today))
    return out


def _limit(line: LineFacts) -> float | None:
    return line.setup.limits.outlet_high_mmol_l


def _strip(line: LineFacts, reader: Reader) -> Sizes | None:
    estimate = line.estimate
    if estimate is None or estimate.outlet_mmol_l is None:
        return None
    out, raw, high = estimate.outlet_mmol_l, estimate.raw_mmol_l, _limit(line)
    figure = reader.hardness(out)
    view = StripView(
        value=out.p50,
        low=out.p05,
        high=out.p95,
        window_low=None,
        window_high=(high, reader.hardness_set(high)) if high is not None else None,
        raw=(raw.p50, reader.say("water.raw", value=reader.hardness(raw).value)) if raw else None,
        label=f"{reader.say(HARDNESS_NAMES[line.setup.capacity_kind])} {figure.full}",
    )
    return Sizes(wide=strip(view, WIDE_STRIP), phone=strip(view, PHONE_WIDTH))


def _alarms(line: LineFacts, reader: Reader, when: When) -> list[AlarmRow]:
    return [
        AlarmRow(
            sign=drops(a.priority, a.change),
            priority=_said(reader, "priority", a.priority),
            change=_said(reader, "change", a.change),
            text=a.text or alarm_words(a, reader).told,
            since=reader.say("alarms.since", moment=when.moment(a.at_ms)),
        )
        for a in line.alarms
    ]


def _said(reader: Reader, group: str, word: str) -> str:
    key = f"{group}.{word}"
    return reader.say(key) if reader.has(key) else word


def _shares(line: LineFacts, reader: Reader) -> tuple[tuple[str, str], ...]:
    if line.estimate is None or line.estimate.remaining_l is None:
        return ()
    rests = line.estimate.rests_on
    return (
        (reader.share(rests.conductivity), reader.say("why.conductivity")),
        (reader.share(rests.litres), reader.say("why.litres")),
        (reader.share(rests.drop_tests), reader.say("why.tests")),
    )


def _evidence(line: LineFacts, reader: Reader) -> Sizes | None:
    shares = _shares(line, reader)
    if not shares or line.estimate is None:
        return None
    rests = line.estimate.rests_on
    words = dict(zip(("conductivity", "litres", "tests"), (s[0] for s in shares), strict=True))
    view = EvidenceView(
        conductivity=rests.conductivity,
        litres=rests.litres,
        drop_tests=rests.drop_tests,
        label=reader.say("why.rests-said", **words),
    )
    return Sizes(wide=evidence(view, WIDE_EVIDENCE), phone=evidence(view, PHONE_WIDTH))


def _remarks(line: LineFacts, state: State, reader: Reader, when: When) -> tuple[str, ...]:
    """What is to be known of the figure; where all is unknown the headline has the gravest."""
    remarks = told(line.estimate)
    shown = remarks[1:] if state is State.UNKNOWN else remarks
    return tuple(remark_words(one, reader, when) for one in shown)


def _last_test(line: LineFacts, reader: Reader, when: When) -> str:
    test, told = line.last_test, hardness_of_test(line.last_test, line.setup.capacity_kind)
    if test is None or told is None:
        return ""
    what = f"{reader.hardness_set(told)}{THIN}{reader.hardness_sign}"
    who = f", {test.who}" if test.who else ""
    return reader.say("why.last-test", what=what, day=when.medium(when.day(test.at_ms)), who=who)


def _care(line: LineFacts, reader: Reader) -> tuple[str, ...]:
    keys = (f"care.{line.setup.medium}", "care.any")
    return tuple(reader.say(key) for key in keys if reader.has(key))


def _cartridge(line: LineFacts, reader: Reader, when: When) -> str:
    medium = _said(reader, "medium", line.setup.medium)
    if line.fitted_ms is None:
        return reader.say("footer.cartridge-no-day", medium=medium)
    day = when.short(when.day(line.fitted_ms), year=True)
    return reader.say("footer.cartridge", medium=medium, day=day)
