"""The proposal as a screen: plane, bypass, judgement, reasons, alternatives, size."""

from __future__ import annotations

from analytics.errors import ModelError
from analytics.survey.judge import Candidate
from analytics.survey.plan import Survey
from analytics.survey.site import Aim, Boilers, Material
from dashboards.commissioning.progress import Machine
from dashboards.commissioning.promise import proposal as asked
from dashboards.commissioning.screen import Button, Field, Form, Shot, Task
from dashboards.commissioning.tasks_water import in_reader, volume_sign
from dashboards.phrases.reader import Reader
from dashboards.survey_plane import PHONE, WIDE, survey_plane
from dashboards.survey_words import caution_words, family_first, family_words, reason_words

MOST_OTHERS = 4


def proposal(shot: Shot) -> Task:
    """What the survey proposes, with the bypass to turn."""
    say, reader = shot.reader.say, shot.reader
    machine = _machine_form(shot, shot.page.machine)
    try:
        found = asked(shot.page, shot.line)
    except ModelError as fault:
        return Task(sentence=say("fit.proposal.cannot"), then=f"{fault}. {fault.hint}")
    if found is None:
        return Task(sentence=say("fit.proposal.no-tests"), then=say("fit.proposal.no-tests-then"))
    best = found.best
    return Task(
        sentence=_sentence(shot, best),
        then=_gets(shot, best),
        form=_form(shot, best),
        folded=(machine,),
        said=_said(shot, found),
        table=_judged(shot, found),
        care=(
            *(reason_words(c, reader) for c in best.care),
            *(caution_words(c, reader) for c in best.cautions),
        ),
        drawing=survey_plane(found, reader, WIDE, alone=False),
        drawing_phone=survey_plane(found, reader, PHONE, alone=False),
    )


def _share(best: Candidate) -> float:
    return best.bypass.share if best.bypass is not None else 0.0


def _sentence(shot: Shot, best: Candidate) -> str:
    say = shot.reader.say
    if best.bypass is None or not best.bypass.share:
        key = "fit.proposal.plain" if best.fits else "fit.proposal.plain-not"
        return say(key, medium=family_first(best, shot.reader))
    good = best.fits and (best.chance_in_window or 0.0) >= 0.5
    key = "fit.proposal.in" if good else "fit.proposal.out"
    return say(key, share=f"{100 * _share(best):.0f}")


def _gets(shot: Shot, best: Candidate) -> str:
    water = best.blended
    if water is None:
        return ""
    return shot.reader.say(
        "fit.proposal.gets",
        medium=family_first(best, shot.reader),
        hardness=shot.shown.water_spread("hardness", water.hardness_mmol_l),
        alkalinity=shot.shown.water_spread("alkalinity", water.alkalinity_meq_l),
    )


def _form(shot: Shot, best: Candidate) -> Form:
    say = shot.reader.say
    take = say("fit.proposal.take", share=f"{100 * _share(best):.0f}") if best.bypass else say(
        "fit.proposal.take-it"
    )  # fmt: skip
    wrong = best.family != shot.line.medium or not best.fits
    buttons = [Button(act="take", words=take, look="other" if wrong else "filled")]
    if best.bypass is None:
        return Form(buttons=tuple(buttons))
    value = shot.draft("proposal", "share", f"{100 * best.bypass.share:.0f}")
    field = Field(name="share", label=say("fit.bypass.share"), value=value, unit="%", sort="bypass")
    return Form(fields=(field,), buttons=(*buttons, Button(act="show", words=say("fit.show"))))


def _judged(shot: Shot, found: Survey) -> tuple[tuple[str, ...], ...]:
    """The figures that the bypass moves, with their limits."""
    say, best, window = shot.reader.say, found.best, found.window
    rows = []
    if best.chance_in_window is not None:
        cases = say("fit.cases", n=round(100 * best.chance_in_window))
        rows.append((say("fit.check.window"), cases))
    if best.blended is not None:
        water, shown = best.blended, shot.shown
        if water.brew_si is not None:
            ends = shown.between(water.brew_si.p05, water.brew_si.p95, 1)
            limit = say("fit.at-most", figure=shown.number(window.si_watch, 1))
            index = f"SI {shown.number(water.brew_si.p50, 1)} ({ends}) [{limit}]"
            boiler = shown.temp(found.site.brew_boiler.temp_c)
            rows.append((say("fit.check.scale", temp=boiler), index))
        rows.append((say("fit.ph"), shown.number(water.ph.p50, 1)))
        if "chloride_mmol_l" in found.given.known():
            limit = say("fit.at-most", figure=f"{shown.number(window.chloride_watch_mg_l)} mg/L")
            salt = f"{shown.number(water.chloride_mg_l.p50)} mg/L [{limit}]"
        else:
            salt = say("fit.no-chloride")
        rows.append((say("fit.check.corrosion"), salt))
    if best.size is not None and best.size.litres is not None:
        rows.append((say("fit.proposal.size"), shot.reader.volume(best.size.litres).full))
    return tuple(rows)


def _said(shot: Shot, found: Survey) -> tuple[str, ...]:
    """Doubts, notes, what speaks against it; then the alternatives."""
    say, best = shot.reader.say, found.best
    said = [reason_words(each, shot.reader) for each in (*found.notes, *best.against)]
    if best.bypass is not None and best.bypass.low is not None and best.bypass.high is not None:
        low, high = (f"{100 * share:.0f}" for share in (best.bypass.low, best.bypass.high))
        said.insert(0, say("fit.proposal.from-to", low=low, high=high))
    if best.family != shot.line.medium:
        said.append(say("fit.proposal.other-medium", medium=say(f"medium.{shot.line.medium}")))
    ranked = sorted((c for c in found.candidates if c.fits), key=lambda c: -c.score)
    if ranked and ranked[0].family != best.family:
        said.append(say("fit.proposal.better", medium=family_words(ranked[0], shot.reader)))
    return tuple(said)


def others(found: Survey, reader: Reader) -> tuple[tuple[str, str, str], ...]:
    """Families to look at instead: name, words, why or why not."""
    rest = sorted(found.candidates[1:], key=lambda c: (not c.fits, -c.score))
    return tuple(
        (
            c.family,
            family_first(c, reader),
            _why(c, reader),
        )
        for c in rest[:MOST_OTHERS]
    )


def _why(candidate: Candidate, reader: Reader) -> str:
    """What speaks for or against a family first, else what it does."""
    reasons = candidate.against or candidate.care
    if reasons:
        return reason_words(reasons[0], reader)
    return reader.say(f"family.{candidate.family}.does")


def _machine_form(shot: Shot, machine: Machine) -> Form:
    say = shot.reader.say
    litres = "" if machine.litres_a_day is None else in_reader(shot, machine.litres_a_day, 0)

    def choice(name: str, words: list[str], value: str) -> Field:
        pairs = tuple((w, say(f"fit.machine.{name}.{w}")) for w in words)
        return Field(name=name, label=say(f"fit.machine.{name}"), sort="choice", value=value,
                     choices=pairs)  # fmt: skip

    return Form(
        title=say("fit.machine"),
        fields=(
            choice("boilers", [b.value for b in Boilers], machine.boilers.value),
            choice("material", [m.value for m in Material], machine.material.value),
            choice("aim", [a.value for a in Aim], machine.aim.value),
            choice("low_sodium", ["no", "yes"], "yes" if machine.low_sodium else "no"),
            Field(name="litres_a_day", label=say("fit.machine.litres_a_day"), value=litres,
                  unit=volume_sign(shot)),
        ),
        buttons=(Button(act="machine", words=say("fit.show")),),
    )  # fmt: skip
