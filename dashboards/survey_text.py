"""A survey as an installer reads it: the answer first, then raw water, size, reasons and care."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Final

from analytics.samples import Spread
from analytics.survey.given import NAMES, How
from analytics.survey.judge import Candidate
from analytics.survey.plan import Survey
from analytics.survey.site import DAYS_A_MONTH
from analytics.survey.sizing import Size
from analytics.survey.words import Units, of_hundred
from dashboards.phrases.numbers import THIN
from dashboards.survey_figures import (
    Shown,
    band_text,
    figures,
    ranged,
    signed,
    signed_one,
)

WIDTH: Final = 96
INDENT: Final = 2
FEEBLE: Final = 0.1
SPOKEN_ALONE: Final = {"carbon": "Carbon and a particle filter are enough"}


def survey_text(found: Survey, units: Units) -> str:
    """The whole survey as text."""
    shown = Shown(units=units)
    parts = [
        _headline(found, shown),
        _raw(found, shown),
        _remarks(found),
        _machine(found, shown),
        _bypass(found.best, shown),
        _size(found, shown),
        _instead(found, shown),
        _why_not(found),
        _care(found),
        _window(found, shown),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def headline(found: Survey, units: Units) -> str:
    """The answer in one or two sentences."""
    return _sentence(found, Shown(units=units)).replace(THIN, " ")


def family_spoken(candidate: Candidate) -> str:
    """The family at the start of a sentence."""
    return candidate.spoken[:1].upper() + candidate.spoken[1:]


def _headline(found: Survey, shown: Shown) -> str:
    return _wrapped(_sentence(found, shown), 0)


def _sentence(found: Survey, shown: Shown) -> str:
    best = found.best
    if not best.fits:
        nearest = f" Nearest comes {best.spoken}." if best.blended is not None else ""
        return f"None of the media brings this water into the window.{nearest}"
    return f"{_what(best)}. {_gets(best, shown)}{_chance(best)}"


def _what(best: Candidate) -> str:
    if best.family in SPOKEN_ALONE:
        return SPOKEN_ALONE[best.family]
    if best.bypass is None:
        return family_spoken(best)
    if best.bypass.share == 0:
        return f"{family_spoken(best)}, no bypass"
    return f"{family_spoken(best)}, {100 * best.bypass.share:.0f}{THIN}% round the bed"


def _gets(best: Candidate, shown: Shown) -> str:
    water = best.blended
    if water is None:
        return ""
    return (
        f"The machine would get {shown.hard(water.hardness_mmol_l)} of hardness and "
        f"{shown.alk(water.alkalinity_meq_l)} of alkalinity"
    )


def _chance(best: Candidate) -> str:
    if best.chance_in_window is None:
        return "."
    if best.chance_in_window < FEEBLE and any(c.code == "just-outside" for c in best.care):
        return ": just outside the window."
    return f": in the window in {of_hundred(best.chance_in_window)}."


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
        ("ec25_us_cm", ranged(raw.ec25_us_cm, "µS/cm")),
        ("chloride_mmol_l", ranged(raw.chloride_mg_l, "mg/L")),
        ("sodium_mmol_l", ranged(raw.sodium_mg_l, "mg/L")),
        ("ph", ranged(raw.ph, least=0.5)),
    ]
    lines = _columns([(NAMES[field], value, _how(found, field)) for field, value in rows])
    return _titled("Raw water (5–95 % in brackets)", lines)


def _how(found: Survey, field: str) -> str:
    reading = found.given.known().get(field)
    if reading is None:
        return "not tested: what is plausible"
    if any(doubt.likely == field for doubt in found.doubts):
        return f"in doubt: {reading.said}"
    if reading.how is How.REPORT:
        return f"report: {reading.said}"
    return f"tested: {reading.said}"


def _remarks(found: Survey) -> str:
    lines = []
    for doubt in found.doubts:
        lines.append(_wrapped(f"{doubt.text} {doubt.mend}", first="! "))
        lines.append(_wrapped("Until then the answer is wide enough for both.", INDENT + 2))
    lines += [_wrapped(note.text, first="· ") for note in found.notes]
    return _titled("Look again" if found.doubts else "To know", lines)


# --- what the machine gets ------------------------------------------------------------------------


def _machine(found: Survey, shown: Shown) -> str:
    water = found.best.blended
    if water is None:
        return ""
    window, raw = found.window, found.raw
    pairs = (
        *((name, shown.hard, field) for name, field in _HARD),
        ("alkalinity", shown.alk, "alkalinity_meq_l"),
        ("EC25", _plain("µS/cm"), "ec25_us_cm"),
        (f"TDS (EC25 × {window.tds_factor:g})", _plain("mg/L"), "tds_mg_l"),
        ("sodium", _plain("mg/L"), "sodium_mg_l"),
        ("chloride", _plain("mg/L"), "chloride_mg_l"),
        ("pH at the tap", _acid, "ph"),
    )
    limits = _limits(found, shown)
    rows = [
        (name, write(getattr(raw, field)), write(getattr(water, field)), limits.get(field, "–"))
        for name, write, field in pairs
    ]
    rows.append(("  stood in air", f"{raw.open_ph:.1f}", f"{water.open_ph:.1f}", "–"))
    head = ("", "raw", "machine", "window")
    table = (head, *rows, *_boilers(found))
    return _titled("What the machine gets", _columns(table))


def _columns(table: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows with every column as wide as its widest cell."""
    widths = [max(map(len, column)) + 2 for column in zip(*table, strict=True)]
    padded = (
        "".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in table
    )
    return [f"  {line.rstrip()}" for line in padded]


_HARD: Final = (("total hardness", "hardness_mmol_l"), ("calcium", "calcium_mmol_l"))


def _limits(found: Survey, shown: Shown) -> dict[str, str]:
    """The window in words, by figure."""
    window = found.window
    limits = {
        "hardness_mmol_l": shown.hard_band(window.hardness_mmol_l),
        "alkalinity_meq_l": shown.alk_band(window.alkalinity_meq_l),
        "calcium_mmol_l": shown.hard_band(window.calcium_mmol_l),
        "tds_mg_l": band_text(window.tds_mg_l, _whole, "mg/L"),
        "ph": band_text(window.ph, _short),
        "sodium_mg_l": band_text(window.sodium_mg_l, _whole, "mg/L"),
    }
    if found.site.chloride_matters:
        limits["chloride_mg_l"] = f"up to {window.chloride_watch_mg_l:g}{THIN}mg/L"
    return limits


def _plain(unit: str) -> Callable[[Spread], str]:
    return lambda figure: ranged(figure, unit)


def _acid(figure: Spread) -> str:
    return ranged(figure, least=0.5)


def _boilers(found: Survey) -> list[tuple[str, str, str, str]]:
    water, raw, site, window = found.best.blended, found.raw, found.site, found.window
    rows = []
    if water is not None and water.brew_si is not None and raw.brew_si is not None:
        name = f"SI at {site.brew_boiler.temp_c:.0f}{THIN}°C, closed"
        limit = f"up to {signed_one(window.si_watch)}"
        rows.append((name, signed(raw.brew_si), signed(water.brew_si), limit))
        opened = [signed_one(w.open_brew_si or 0.0) for w in (raw, water)]
        rows.append(("  once CO₂ has gone", opened[0], opened[1], "–"))
    if water is not None and water.steam_si is not None and raw.steam_si is not None:
        boiler = site.steam_boiler
        name = f"SI at {boiler.temp_c:.0f}{THIN}°C, {boiler.concentration:g}×"
        rows.append((name, signed(raw.steam_si), signed(water.steam_si), "–"))
        lime = [f"{w.steam_lime_mg_l or 0.0:.0f}{THIN}mg/L" for w in (raw, water)]
        rows.append(("  lime it can leave", lime[0], lime[1], "–"))
    return rows


def _whole(value: object) -> str:
    return f"{value:.0f}"


def _short(value: object) -> str:
    return f"{value:g}"


# --- bypass and size ------------------------------------------------------------------------------


def _bypass(best: Candidate, shown: Shown) -> str:
    bypass = best.bypass
    if bypass is None:
        return ""
    write = shown.units.alk if bypass.of == "alkalinity" else shown.units.hard
    text = (
        f"Aimed at {bypass.of} {write(bypass.target)} from {write(bypass.raw)} with "
        f"{100 * bypass.leak:.1f} % left behind a new bed: "
        f"({bypass.target / max(bypass.raw, 1e-9):.3f} - {bypass.leak:.3f}) / "
        f"(1 - {bypass.leak:.3f}) = {100 * bypass.formula:.0f} %."
    )
    if bypass.moved and bypass.chance >= FEEBLE:
        text += f" {100 * bypass.share:.0f} % keeps the water in the window more surely."
    elif bypass.moved:
        text += f" {100 * bypass.share:.0f} % is as much as scale in the brew boiler allows."
    if bypass.low is not None and bypass.high is not None:
        text += f" In the window from {100 * bypass.low:.0f} to {100 * bypass.high:.0f} %."
    return _titled("Bypass", [_wrapped(text)])


def _size(found: Survey, shown: Shown) -> str:
    best = found.best
    lines = []
    if best.size is not None:
        lines += _size_lines(best.size, best.bypass.share if best.bypass else 0.0, found, shown)
    if best.calcite_g_a_day is not None:
        text = f"The calcite bed loses about {figures(best.calcite_g_a_day)} g on an open day."
        lines.append(_wrapped(text))
    if best.size is None and best.fits:
        lines.append(_wrapped(_without_capacity(best)))
    return _titled("Size", lines)


def _without_capacity(best: Candidate) -> str:
    if best.family == "membrane":
        return "A membrane is sized by litres a day and its recovery, not by a capacity."
    if best.calcite_g_a_day is not None:
        return "Refill it before half is gone."
    return "By its stated litres, and at the latest after 6 to 12 months."


def _size_lines(size: Size, bypass: float, found: Survey, shown: Shown) -> list[str]:
    taken = shown.removed(size.removed_mmol_l.p50)
    through = f"{100 * (1 - bypass):.0f}{THIN}%"
    lines = []
    if size.litres is not None and size.capacity_mmol is not None:
        text = (
            f"{shown.capacity(size.capacity_mmol)} ÷ ({taken} of {size.kind} hardness × {through}) "
            f"= {figures(size.litres.p50)} litres ({figures(size.litres.p05)} to "
            f"{figures(size.litres.p95)})"
        )
        if size.months is not None and size.changed_after_months is not None:
            text += f", {_time(size.months)} at {found.site.litres_a_day:g} litres an open day"
            if size.changed_after_months < size.months.p50:
                text += "; hygiene ends it after 12 months"
        lines.append(_wrapped(text + "."))
    if size.needed_mmol is not None and size.litres_a_month is not None:
        text = (
            f"For {size.wished_months:g} months ({figures(size.litres_a_month)} litres a month) it "
            f"needs {shown.capacity(size.needed_mmol.p50)} of {size.kind} hardness "
            f"({shown.capacity_range(size.needed_mmol)}): "
            f"{taken} × {through} × litres."
        )
        lines.append(_wrapped(text))
    if size.litres is None and size.needed_mmol is None:
        each = size.removed_mmol_l.p50 * (1 - bypass)
        text = (
            f"Each litre takes {shown.removed(each)} of {size.kind} hardness from the capacity "
            f"({taken} × {through}). With --litres-a-day and --capacity this becomes months."
        )
        lines.append(_wrapped(text))
    return lines


def _time(months: Spread) -> str:
    """Months, or days where they are few."""
    if months.p50 >= 2:
        return f"{months.p50:.1f} months ({months.p05:.1f} to {months.p95:.1f})"
    days = [DAYS_A_MONTH * v for v in (months.p50, months.p05, months.p95)]
    return f"{days[0]:.0f} days ({days[1]:.0f} to {days[2]:.0f})"


# --- the others, care, window ---------------------------------------------------------------------


def _instead(found: Survey, shown: Shown) -> str:
    lines = [
        _wrapped(f"{_what(each)}. {_gets(each, shown)}{_chance(each)} {_first(each)}".strip())
        for each in found.candidates[1:]
        if each.fits and not _feeble(each)
    ]
    return _titled("Instead", lines)


def _first(candidate: Candidate) -> str:
    return candidate.care[0].text if candidate.care else ""


def _why_not(found: Survey) -> str:
    whose: dict[str, list[str]] = {}
    for each in found.candidates:
        reasons = each.against or (each.care if _feeble(each) else ())
        if reasons and each is not found.best:
            whose.setdefault(reasons[0].text, []).append(each.family)
    lines = [_wrapped(text, first=f"{', '.join(names)}: ") for text, names in whose.items()]
    return _titled("Why not the others", lines)


def _feeble(candidate: Candidate) -> bool:
    """Whether a family fits by its rules but hardly ever hits the window."""
    chance = candidate.chance_in_window
    return candidate.fits and candidate.score < 0 and chance is not None and chance < FEEBLE


def _care(found: Survey) -> str:
    best = found.best
    texts = [each.text for each in best.care]
    texts += [each.text for each in (*best.cautions, *found.cautions)]
    return _titled("Care", [_wrapped(text, first="· ") for text in texts])


def _window(found: Survey, shown: Shown) -> str:
    window = found.window
    text = (
        f"Profile {window.name}: hardness {shown.hard_band(window.hardness_mmol_l)}, alkalinity "
        f"{shown.alk_band(window.alkalinity_meq_l)}. Source: {window.source}. To change it: "
        f"lastlitre survey --print-profile {window.name} > mine.toml, then --window mine.toml."
    )
    if found.site.brews:
        text += " SI: calcite, constants of PHREEQC 3.8.6 phreeqc.dat."
    return _titled("Window", [_wrapped(text)])
