"""A survey as an installer reads it: the answer first, then raw water, size, reasons and care."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from analytics.samples import Spread
from analytics.survey.case import Figures
from analytics.survey.given import How
from analytics.survey.judge import Candidate
from analytics.survey.plan import Survey
from analytics.survey.site import DAYS_A_MONTH
from analytics.survey.sizing import Size
from dashboards.phrases.numbers import EN_DASH, THIN
from dashboards.phrases.reader import Reader
from dashboards.survey_figures import Shown
from dashboards.survey_words import (
    alkalinity_words,
    caution_words,
    doubt_words,
    family_first,
    family_words,
    field_name,
    hardness_words,
    of_hundred,
    reason_words,
    short,
)

WIDTH: Final = 96
INDENT: Final = 2
FEEBLE: Final = 0.1
SPOKEN_ALONE: Final = ("carbon",)


def survey_text(found: Survey, reader: Reader) -> str:
    """The whole survey as text."""
    shown = Shown(reader=reader)
    parts = [
        _wrapped(_sentence(found, shown), 0),
        _raw(found, shown),
        _remarks(found, reader),
        _machine(found, shown),
        _bypass(found.best, shown),
        _size(found, shown),
        _instead(found, shown),
        _why_not(found, reader),
        _care(found, reader),
        _window(found, shown),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def headline(found: Survey, reader: Reader) -> str:
    """The answer in one or two sentences."""
    return _sentence(found, Shown(reader=reader)).replace(THIN, " ")


def _sentence(found: Survey, shown: Shown) -> str:
    best, say = found.best, shown.reader.say
    if best.fits:
        return _answer(best, shown)
    if best.blended is None:
        return say("report.none")
    return say("report.none-nearest", family=family_words(best, shown.reader))


def _answer(best: Candidate, shown: Shown) -> str:
    reader, what, water = shown.reader, _what(best, shown), best.blended
    if water is None:
        return reader.say("report.answer", what=what)
    gets = {
        "hardness": shown.hard(water.hardness_mmol_l),
        "alkalinity": shown.alk(water.alkalinity_meq_l),
    }
    if best.chance_in_window is None:
        return reader.say("report.answer-gets", what=what, **gets)
    if best.chance_in_window < FEEBLE and any(c.code == "just-outside" for c in best.care):
        return reader.say("report.answer-outside", what=what, **gets)
    cases = of_hundred(best.chance_in_window, reader)
    return reader.say("report.answer-chance", what=what, cases=cases, **gets)


def _what(best: Candidate, shown: Shown) -> str:
    reader = shown.reader
    if best.family in SPOKEN_ALONE:
        return reader.say(f"report.what.{best.family}")
    family = family_first(best, reader)
    if best.bypass is None:
        return family
    if best.bypass.share == 0:
        return reader.say("report.what.no-bypass", family=family)
    share = shown.percent(best.bypass.share)
    return reader.say("report.what.bypass", family=family, share=share)


def _titled(title: str, lines: list[str]) -> str:
    return "\n".join([title, *lines]) if lines else ""


def _wrapped(text: str, indent: int = INDENT, first: str = "") -> str:
    start = " " * indent + first
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_on_hyphens=False,
        break_long_words=False,
    )


# --- raw water ------------------------------------------------------------------------------------


def _raw(found: Survey, shown: Shown) -> str:
    raw = found.raw
    rows = [
        ("hardness_mmol_l", shown.hard(raw.hardness_mmol_l)),
        ("alkalinity_meq_l", shown.alk(raw.alkalinity_meq_l)),
        ("calcium_mmol_l", shown.hard(raw.calcium_mmol_l)),
        ("ec25_us_cm", shown.ranged(raw.ec25_us_cm, "µS/cm")),
        ("chloride_mmol_l", shown.ranged(raw.chloride_mg_l, "mg/L")),
        ("sodium_mmol_l", shown.ranged(raw.sodium_mg_l, "mg/L")),
        ("ph", shown.ranged(raw.ph, least=0.5)),
    ]
    reader = shown.reader
    lines = _columns([(field_name(f, reader), v, _how(found, f, reader)) for f, v in rows])
    return _titled(reader.say("report.raw"), lines)


def _how(found: Survey, field: str, reader: Reader) -> str:
    reading = found.given.known().get(field)
    if reading is None:
        return reader.say("report.how.plausible")
    how = "report" if reading.how is How.REPORT else "tested"
    if any(doubt.likely == field for doubt in found.doubts):
        how = "doubt"
    return reader.say(f"report.how.{how}", said=reading.said)


def _remarks(found: Survey, reader: Reader) -> str:
    lines = []
    for doubt in found.doubts:
        lines.append(_wrapped(doubt_words(doubt, reader), first="! "))
        lines.append(_wrapped(reader.say("report.wide"), INDENT + 2))
    lines += [_wrapped(reason_words(note, reader), first="· ") for note in found.notes]
    return _titled(reader.say("report.look-again" if found.doubts else "report.to-know"), lines)


# --- what the machine gets ------------------------------------------------------------------------


def _machine(found: Survey, shown: Shown) -> str:
    water, raw, say = found.best.blended, found.raw, shown.reader.say
    if water is None:
        return ""
    limits = _limits(found, shown)
    pairs = zip(_figures(found.raw, shown), _figures(water, shown), strict=True)
    factor = short(found.window.tds_factor, shown.reader)
    rows = [
        (
            say(f"report.row.{name}", **({"factor": factor} if name == "tds" else {})),
            before,
            after,
            limits.get(name, EN_DASH),
        )
        for (name, before), (_, after) in pairs
    ]
    before, after = (shown.fixed(w.open_ph, 1) for w in (raw, water))
    rows.append((f"  {say('report.row.air')}", before, after, EN_DASH))
    head = ("", *(say(f"report.head.{name}") for name in ("raw", "machine", "window")))
    return _titled(say("report.machine"), _columns((head, *rows, *_boilers(found, shown))))


def _figures(water: Figures, shown: Shown) -> list[tuple[str, str]]:
    """The figures of one water by the name of their row."""
    return [
        ("hardness", shown.hard(water.hardness_mmol_l)),
        ("calcium", shown.hard(water.calcium_mmol_l)),
        ("alkalinity", shown.alk(water.alkalinity_meq_l)),
        ("ec25", shown.ranged(water.ec25_us_cm, "µS/cm")),
        ("tds", shown.ranged(water.tds_mg_l, "mg/L")),
        ("sodium", shown.ranged(water.sodium_mg_l, "mg/L")),
        ("chloride", shown.ranged(water.chloride_mg_l, "mg/L")),
        ("ph", shown.ranged(water.ph, least=0.5)),
    ]


def _columns(table: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows with every column as wide as its widest cell."""
    widths = [max(map(len, column)) + 2 for column in zip(*table, strict=True)]
    padded = (
        "".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in table
    )
    return [f"  {line.rstrip()}" for line in padded]


def _limits(found: Survey, shown: Shown) -> dict[str, str]:
    """The window in words, by row."""
    window = found.window

    def whole(value: float) -> str:
        return shown.fixed(value, 0)

    limits = {
        "hardness": shown.hard_band(window.hardness_mmol_l),
        "alkalinity": shown.alk_band(window.alkalinity_meq_l),
        "calcium": shown.hard_band(window.calcium_mmol_l),
        "tds": shown.band(window.tds_mg_l, whole, "mg/L"),
        "ph": shown.band(window.ph, lambda value: short(value, shown.reader)),
        "sodium": shown.band(window.sodium_mg_l, whole, "mg/L"),
    }
    if found.site.chloride_matters:
        high = f"{short(window.chloride_watch_mg_l, shown.reader)}{THIN}mg/L"
        limits["chloride"] = shown.reader.say("report.up-to", high=high)
    return limits


def _boilers(found: Survey, shown: Shown) -> list[tuple[str, str, str, str]]:
    water, raw, site, say = found.best.blended, found.raw, found.site, shown.reader.say
    rows = []
    if water is not None and water.brew_si is not None and raw.brew_si is not None:
        name = say("report.row.si-closed", temp=shown.reader.degrees(site.brew_boiler.temp_c))
        limit = say("report.up-to", high=shown.signed_one(found.window.si_watch))
        rows.append((name, shown.signed(raw.brew_si), shown.signed(water.brew_si), limit))
        opened = [shown.signed_one(w.open_brew_si or 0.0) for w in (raw, water)]
        rows.append((f"  {say('report.row.si-open')}", opened[0], opened[1], EN_DASH))
    if water is not None and water.steam_si is not None and raw.steam_si is not None:
        boiler = site.steam_boiler
        many = short(boiler.concentration, shown.reader)
        name = say("report.row.si-steam", temp=shown.reader.degrees(boiler.temp_c), many=many)
        rows.append((name, shown.signed(raw.steam_si), shown.signed(water.steam_si), EN_DASH))
        lime = [f"{shown.fixed(w.steam_lime_mg_l or 0.0, 0)}{THIN}mg/L" for w in (raw, water)]
        rows.append((f"  {say('report.row.lime')}", lime[0], lime[1], EN_DASH))
    return rows


# --- bypass and size ------------------------------------------------------------------------------

_OF: Final = {"total hardness": "hardness", "alkalinity": "alkalinity", "calcium": "calcium"}


def _bypass(best: Candidate, shown: Shown) -> str:
    bypass, say, reader = best.bypass, shown.reader.say, shown.reader
    if bypass is None:
        return ""
    write = alkalinity_words if bypass.of == "alkalinity" else hardness_words
    leak = shown.fixed(bypass.leak, 3)
    ratio = shown.fixed(bypass.target / max(bypass.raw, 1e-9), 3)
    text = say(
        "report.bypass.formula",
        name=say(f"survey.name.{_OF[bypass.of]}"),
        target=write(bypass.target, reader),
        raw=write(bypass.raw, reader),
        leak=shown.percent(bypass.leak, 1),
        formula=f"({ratio} - {leak}) / (1 - {leak})",
        share=shown.percent(bypass.formula),
    )
    if bypass.moved:
        key = "report.bypass.surer" if bypass.chance >= FEEBLE else "report.bypass.scale"
        text += " " + say(key, share=shown.percent(bypass.share))
    if bypass.low is not None and bypass.high is not None:
        low, high = shown.percent(bypass.low), shown.percent(bypass.high)
        text += " " + say("report.bypass.window", low=low, high=high)
    return _titled(say("report.bypass"), [_wrapped(text)])


def _size(found: Survey, shown: Shown) -> str:
    best, say = found.best, shown.reader.say
    lines = []
    if best.size is not None:
        lines += _size_lines(best.size, best.bypass.share if best.bypass else 0.0, found, shown)
    if best.calcite_g_a_day is not None:
        grams = f"{shown.figures(best.calcite_g_a_day)}{THIN}g"
        lines.append(_wrapped(say("report.size.calcite", grams=grams)))
    if best.size is None and best.fits:
        lines.append(_wrapped(say(_without_capacity(best))))
    return _titled(say("report.size"), lines)


def _without_capacity(best: Candidate) -> str:
    if best.family == "membrane":
        return "report.size.membrane"
    return "report.size.stated" if best.calcite_g_a_day is None else "report.size.refill"


def _size_lines(size: Size, bypass: float, found: Survey, shown: Shown) -> list[str]:
    say = shown.reader.say
    parts = {
        "taken": shown.removed(size.removed_mmol_l.p50),
        "kind": say(f"survey.kind.{size.kind}"),
        "through": shown.percent(1 - bypass),
    }
    lines = []
    if size.litres is not None and size.capacity_mmol is not None:
        lines.append(_litres(size, size.litres, size.capacity_mmol, parts, found, shown))
    if size.needed_mmol is not None and size.litres_a_month is not None:
        low, high = shown.capacity_ends(size.needed_mmol)
        lines.append(
            say(
                "report.size.needs",
                months=short(size.wished_months, shown.reader),
                monthly=shown.figures(size.litres_a_month),
                capacity=shown.capacity(size.needed_mmol.p50),
                low=low,
                high=high,
                **parts,
            )
        )
    if size.litres is None and size.needed_mmol is None:
        each = shown.removed(size.removed_mmol_l.p50 * (1 - bypass))
        lines.append(say("report.size.each", each=each, **parts))
    return [_wrapped(line) for line in lines]


def _litres(
    size: Size, litres: Spread, capacity: float, parts: dict[str, str], found: Survey, shown: Shown
) -> str:
    """How many litres a cartridge at hand makes, and how long they last."""
    figures = {
        "capacity": shown.capacity(capacity),
        "litres": shown.figures(litres.p50),
        "low": shown.figures(litres.p05),
        "high": shown.figures(litres.p95),
    }
    if size.months is None or size.changed_after_months is None:
        return shown.reader.say("report.size.litres", **figures, **parts)
    ends = size.changed_after_months < size.months.p50
    return shown.reader.say(
        "report.size.litres-hygiene" if ends else "report.size.litres-time",
        time=_time(size.months, shown),
        daily=short(found.site.litres_a_day or 0.0, shown.reader),
        **figures,
        **parts,
    )


def _time(months: Spread, shown: Shown) -> str:
    """Months, or days where they are few."""
    few = months.p50 < 2
    factor, digits = (DAYS_A_MONTH, 0) if few else (1.0, 1)
    n, low, high = (shown.fixed(factor * v, digits) for v in (months.p50, months.p05, months.p95))
    return shown.reader.say(
        "report.size.days" if few else "report.size.months", n=n, low=low, high=high
    )


# --- the others, care, window ---------------------------------------------------------------------


def _instead(found: Survey, shown: Shown) -> str:
    lines = []
    for each in found.candidates[1:]:
        if each.fits and not _feeble(each):
            first = [reason_words(care, shown.reader) for care in each.care[:1]]
            lines.append(_wrapped(" ".join([_answer(each, shown), *first])))
    return _titled(shown.reader.say("report.instead"), lines)


def _why_not(found: Survey, reader: Reader) -> str:
    whose: dict[str, list[str]] = {}
    for each in found.candidates:
        reasons = each.against or (each.care if _feeble(each) else ())
        if reasons and each is not found.best:
            text = reason_words(reasons[0], reader)
            whose.setdefault(text, []).append(reader.say(f"family.{each.family}.short"))
    colon = reader.say("page.colon")
    lines = [_wrapped(text, first=f"{', '.join(names)}{colon} ") for text, names in whose.items()]
    return _titled(reader.say("report.why-not"), lines)


def _feeble(candidate: Candidate) -> bool:
    """Whether a family fits by its rules but hardly ever hits the window."""
    chance = candidate.chance_in_window
    return candidate.fits and candidate.score < 0 and chance is not None and chance < FEEBLE


def _care(found: Survey, reader: Reader) -> str:
    best = found.best
    texts = [reason_words(each, reader) for each in best.care]
    texts += [caution_words(each, reader) for each in (*best.cautions, *found.cautions)]
    return _titled(reader.say("report.care"), [_wrapped(text, first="· ") for text in texts])


def _window(found: Survey, shown: Shown) -> str:
    window, say = found.window, shown.reader.say
    text = say(
        "report.window.profile",
        name=window.name,
        hardness=shown.hard_band(window.hardness_mmol_l),
        alkalinity=shown.alk_band(window.alkalinity_meq_l),
        source=window.source,
    )
    if found.site.brews:
        text += " " + say("report.window.si")
    return _titled(say("report.window"), [_wrapped(text)])
