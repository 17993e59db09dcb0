"""The hand-over record of a fitting: site, water, treatment and why, settings, every check."""

from __future__ import annotations

import msgspec

from analytics.errors import ModelError
from analytics.samples import AnyEvent, CartridgeFitted, DropTest, Estimate
from analytics.survey.plan import Survey
from dashboards.bed.layout import PHONE as BED_PHONE
from dashboards.bed.view import bed_view
from dashboards.bed_profile import bead_definitions, bed_svg
from dashboards.commissioning.checks import NOT_YET, OUTSIDE, checks_of
from dashboards.commissioning.counting import reading
from dashboards.commissioning.meters import cell_of, ec25_of, k_found
from dashboards.commissioning.progress import Progress, Promise
from dashboards.commissioning.promise import proposal
from dashboards.commissioning.shown import Shown
from dashboards.commissioning.steps import STEPS, kinds_tested, passed_over, probes
from dashboards.paper.address import pages_row
from dashboards.paper.common import Desk, care_row, place_row, sheet_of
from dashboards.paper.drawings import alone
from dashboards.paper.sheet import (
    Block,
    Check,
    Checks,
    Drawing,
    Facts,
    Row,
    Sheet,
    Signatures,
    Words,
)
from dashboards.sources import LineFacts
from dashboards.state import state_of
from dashboards.survey_plane import PHONE, survey_plane
from dashboards.survey_words import reason_words

PLANE_MM = 68.0
BED_MM = 68.0
TWICE = ("raw", "dry", "blended")
"""Steps whose checks have names that other steps have, too."""
CARES = ("fit.care.plumbing", "fit.care.electricity", "fit.care.acid", "fit.care.test")


def handover_record(
    desk: Desk, page: Progress, events: list[AnyEvent], estimate: Estimate | None
) -> Sheet:
    """The sheet; `events` are those of the line, `estimate` the newest one."""
    say = desk.reader.say
    rows = [
        _place(desk, page),
        _water(desk, page),
        _treatment(desk, page),
        *_plane(desk, page),
        _settings(desk, page),
        _checks(desk, page),
        *_bed(desk, page, estimate, events),
        _dates(desk, page, estimate),
        _care(desk, page),
        *([pages_row(desk.address, desk.reader)] if desk.address else []),
        Row(
            title=say("paper.row.sign"),
            blocks=(Signatures(under=(say("paper.sign.fitted"), say("paper.sign.received"))),),
        ),
    ]
    return sheet_of(desk, "paper.handover", _sentence(desk, page), tuple(rows))


def _sentence(desk: Desk, page: Progress) -> str:
    say = desk.reader.say
    found = [c for step in STEPS[:-1] for c in checks_of(step, page, desk.line, desk.reader)]
    outside = sum(c.sign == OUTSIDE for c in found)
    open_ = sum(c.sign == NOT_YET and c.needed for c in found)
    day = desk.when.long(desk.when.day(page.saved_ms or page.begun_ms))
    if outside:
        return say("paper.said.handover-outside", day=day, n=outside)
    if open_:
        return say("paper.said.handover-open", day=day, n=open_)
    return say("paper.said.handover", day=day, n=len(found))


def _place(desk: Desk, page: Progress) -> Row:
    row = place_row(desk)
    who = dict.fromkeys(taken.who for taken in page.taken.values())
    more = Facts(rows=((desk.reader.say("paper.who"), ", ".join(who) or "–"),))
    return msgspec.structs.replace(row, blocks=(*row.blocks, more))


def _water(desk: Desk, page: Progress) -> Row:
    say, shown, rows = desk.reader.say, Shown(reader=desk.reader), []
    for kind in kinds_tested("raw", desk.line):
        tally = page.tally("raw", kind)
        found = reading(kind, tally, page)
        if found is None:
            continue
        drops = ", ".join(say("fit.n-drops", n=n) for n in tally.counts) or say("fit.as-value")
        between = shown.water_between(kind, found.low, found.high)
        rows.append((say(f"fit.kind.{kind}"), f"{between} ({drops})"))
    zero = page.zero
    ec25 = None if zero is None else ec25_of(zero.outlet, page, "outlet")
    if ec25 is not None:
        rows.append((say("fit.check.raw-ec"), shown.conductivity(ec25)))
    elif page.ec25_us_cm is not None:
        rows.append((say("fit.raw.ec25"), shown.conductivity(page.ec25_us_cm)))
    if page.chloride_mg_l is not None:
        rows.append((say("fit.raw.chloride"), f"{shown.number(page.chloride_mg_l)} mg/L"))
    if page.ph is not None:
        rows.append((say("fit.raw.ph"), shown.number(page.ph, 1)))
    blocks: tuple[Block, ...] = (Facts(rows=tuple(rows)),)
    if not rows:
        blocks = (Words(text=say("paper.handover.no-water")),)
    return Row(title=say("fit.step.raw"), blocks=blocks)


def _treatment(desk: Desk, page: Progress) -> Row:
    say, taken = desk.reader.say, page.promise
    if taken is None:
        return Row(
            title=say("fit.check.treatment"), blocks=(Words(text=say("paper.handover.none")),)
        )
    rows = _gets(desk, taken)
    window = [] if taken.in_window is None else [Words(
        text=say("paper.handover.why", n=round(100 * taken.in_window)))]  # fmt: skip
    why = [
        Words(text=reason_words(each, desk.reader), weight="small")
        for each in (*taken.against, *taken.minded)
    ]
    return Row(title=say("fit.check.treatment"), blocks=(Facts(rows=rows), *window, *why))


def _gets(desk: Desk, taken: Promise) -> tuple[tuple[str, str], ...]:
    say, reader = desk.reader.say, desk.reader
    shown = Shown(reader=reader)
    medium = say(f"medium.{taken.family}") if reader.has(f"medium.{taken.family}") else taken.family
    rows = [
        (say("paper.medium"), medium),
        (say("paper.handover.bypass"), shown.percent(taken.share)),
        (say("fit.kind.hardness"), shown.water_spread("hardness", taken.hardness_mmol_l)),
        (say("fit.kind.alkalinity"), shown.water_spread("alkalinity", taken.alkalinity_meq_l)),
    ]
    if taken.litres is not None:
        rows.append((say("fit.proposal.size"), reader.volume(taken.litres).full))
    return tuple(rows)


def _plane(desk: Desk, page: Progress) -> list[Row]:
    """The plane of hardness and alkalinity with what was taken."""
    taken = page.promise
    if taken is None:
        return []
    there = msgspec.structs.replace(page, family=taken.family, share=taken.share)
    found: Survey | None
    try:
        found = proposal(there, desk.line)
    except ModelError as fault:
        return [
            Row(title=desk.reader.say("paper.handover.plane"), blocks=(Words(text=str(fault)),))
        ]
    if found is None:
        return []
    svg = alone(str(survey_plane(found, desk.reader, PHONE, alone=False)))
    said = desk.reader.say("paper.handover.plane-said")
    drawing = Drawing(svg=svg, said=said, width_mm=PLANE_MM)
    key = Words(text=said, weight="small")
    return [Row(title=desk.reader.say("paper.handover.plane"), blocks=(drawing, key))]


def _settings(desk: Desk, page: Progress) -> Row:
    say, shown = desk.reader.say, Shown(reader=desk.reader)
    rows = [(say("paper.serial"), page.cartridge.serial or "–")]
    if page.set_share is not None:
        rows.append((say("paper.bypass"), shown.percent(page.set_share)))
    k = k_found(page)
    if k is not None:
        ends = shown.between(k.value - 1.645 * k.sd, k.value + 1.645 * k.sd, 1)
        rows.append((say("fit.check.k"), f"{shown.number(k.value, 1)} ({ends})"))
    for probe in probes(desk.line):
        cell = cell_of(page, probe)
        if cell is not None:
            name = f"{say(f'fit.probe.{probe}')}, {say('fit.check.gain')}"
            rows.append((name, shown.number(cell.gain.value, 3)))
    return Row(title=say("paper.handover.settings"), blocks=(Facts(rows=tuple(rows)),))


def _checks(desk: Desk, page: Progress) -> Row:
    """Every check of every step; steps that the line has not are told under it."""
    say, rows, over = desk.reader.say, [], []
    colon = say("page.colon")
    for step in STEPS[:-1]:
        why = passed_over(step, desk.line)
        if why:
            over.append(f"{say(f'fit.step.{step}')}{colon} {say(f'fit.over.{why}')}")
        rows += [
            Check(
                sign=check.sign,
                word=say(f"fit.sign.{check.sign}"),
                what=f"{say(f'fit.step.{step}')}{colon} {check.what}"
                if step in TWICE
                else check.what,
                result=check.result,
                allowed=check.allowed,
            )
            for check in checks_of(step, page, desk.line, desk.reader)
        ]
    keys = (
        "paper.handover.sign",
        "paper.head.what",
        "paper.handover.result",
        "paper.handover.limit",
    )
    first, second, third, fourth = (say(key) for key in keys)
    told = tuple(Words(text=text, weight="small") for text in over)
    block = Checks(head=(first, second, third, fourth), rows=tuple(rows))
    return Row(title=say("paper.handover.checks"), blocks=(block, *told))


def _bed(
    desk: Desk, page: Progress, estimate: Estimate | None, events: list[AnyEvent]
) -> list[Row]:
    """The bed as the newest estimate has it."""
    if estimate is None:
        return []
    fitted = [e for e in events if isinstance(e, CartridgeFitted)]
    tests = [e for e in events if isinstance(e, DropTest)]
    line = LineFacts(
        setup=desk.line,
        estimate=estimate,
        live={},
        every_ms=1000,
        days=(),
        first_row_ms=page.begun_ms,
        last_row_ms=desk.when.now_ms,
        fitted_ms=fitted[-1].at_ms if fitted else None,
        bypass_set=page.set_share,
        last_test=tests[-1] if tests else None,
    )
    state = state_of(line, desk.when.now_ms)
    view = bed_view(line, state, desk.reader, desk.when, desk.setup.opening)
    if view.medium == "polyphosphate":
        return []
    svg = alone(bed_svg(view, BED_PHONE), bead_definitions(view))
    drawing = Drawing(svg=svg, said=view.description, width_mm=BED_MM)
    words = Words(text=view.description, weight="small")
    return [Row(title=desk.reader.say("paper.row.bed"), blocks=(drawing, words))]


def _dates(desk: Desk, page: Progress, estimate: Estimate | None) -> Row:
    say, when = desk.reader.say, desk.when

    def day(at_ms: float) -> str:
        return when.long(when.day(at_ms))

    rows = [(say("paper.handover.begun"), day(page.begun_ms))]
    if page.cartridge.fitted_ms:
        rows.append((say("paper.fitted"), day(page.cartridge.fitted_ms)))
    if "handover" in page.taken:
        rows.append((say("paper.handover.done"), day(page.taken["handover"].at_ms)))
    if page.back_ms is not None:
        rows.append((say("fit.handover.back"), day(page.back_ms)))
    if estimate is not None and estimate.end_ms is not None:
        end = estimate.end_ms
        span = when.days_range(when.day(end.p05), when.day(end.p95))
        rows.append((say("paper.next"), f"{day(end.p50)} ({span})"))
    return Row(title=say("paper.handover.dates"), blocks=(Facts(rows=tuple(rows)),))


def _care(desk: Desk, page: Progress) -> Row:
    row = care_row(desk)
    more = tuple(Words(text=desk.reader.say(key), weight="small") for key in CARES)
    return msgspec.structs.replace(row, blocks=(*row.blocks, *more))
