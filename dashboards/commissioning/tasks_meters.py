"""The tasks with meters as screens: dry, standard, raw water, jugs, let it run."""

from __future__ import annotations

import math

from markupsafe import Markup

from analytics import calibration as fit
from analytics.calibration import Jug
from analytics.quantities import TEMPERATURE
from dashboards.commissioning.checks import ec_limits, passes
from dashboards.commissioning.drawings import jugs as jugs_drawing
from dashboards.commissioning.drawings import ruler
from dashboards.commissioning.meters import (
    agree,
    counter_spoke,
    ec25_of,
    k_found,
    k_in_use,
    look_of,
    pulses_since,
    side_now,
)
from dashboards.commissioning.screen import Button, Field, Form, Live, Shot, Task
from dashboards.commissioning.steps import next_probe, probes
from dashboards.commissioning.tasks_water import flow_words, volume_sign


def probe_live(shot: Shot, wanted: tuple[str, ...], *, at_25: bool = False) -> tuple[Live, ...]:
    """What probes say now, whether it stands, and their temperature."""
    say, found = shot.reader.say, []
    for probe in wanted:
        name = say(f"fit.probe.{probe}")
        side = side_now(shot.rows, probe, shot.now_ms)
        if side is None:
            found.append(Live(key=probe, name=name, value=say("fit.silent")))
            continue
        ec25 = ec25_of(look_of(side), shot.page, probe) if at_25 else None
        value = shot.shown.conductivity(side.us_cm if ec25 is None else ec25)
        found.append(
            Live(key=probe, name=say("fit.at-25", what=name) if ec25 else name, value=value)
        )
        stands = say("fit.stands" if side.stands else "fit.moves")
        if math.isfinite(side.temp_c):
            stands = f"{shot.shown.temp(side.temp_c)}, {stands}"
        found.append(Live(key=f"{probe}-state", name=say("fit.state"), value=stands))
    return tuple(found)


def _measuring(
    shot: Shot, step: str, probe: str, fields: tuple[Field, ...] = ()
) -> tuple[Form, tuple[Form, ...]]:
    """Take the reading; or, when all are taken, pass on."""
    say = shot.reader.say
    if probe:
        take = Button(act="take", words=say(f"fit.{step}.take", probe=say(f"fit.probe.{probe}")),
                      look="filled")  # fmt: skip
        anyhow = Button(act="take", words=say("fit.anyhow"), also=("anyhow", "yes"))
        return Form(fields=fields, buttons=(take,)), (
            Form(title=say("fit.anyhow-why"), fields=fields, buttons=(anyhow,)),
        )
    good = passes(step, shot.page, shot.line, shot.reader)
    again = Button(act="again", words=say("fit.again"), look="other" if good else "filled")
    on = Button(act="pass", words=say("fit.pass"), look="filled")
    return Form(buttons=(on, again) if good else (again,)), ()


def _measured(shot: Shot, step: str) -> str:
    """What came out, in a sentence."""
    good = passes(step, shot.page, shot.line, shot.reader)
    return shot.reader.say("fit.measured-good" if good else "fit.measured-not")


def dry(shot: Shot) -> Task:
    """Out of the water, dry: near nothing."""
    say, probe = shot.reader.say, next_probe(shot.page, "dry", shot.line)
    form, folded = _measuring(shot, "dry", probe)
    return Task(
        sentence=say(f"fit.dry.do.{probe}") if probe else _measured(shot, "dry"),
        then=say("fit.dry.then") if probe else "",
        live=probe_live(shot, (probe,)) if probe else (),
        form=form,
        folded=folded,
        care=(say("fit.care.electricity"),),
    )


def standard(shot: Shot) -> Task:
    """In a bottled standard, with its temperature."""
    say, probe = shot.reader.say, next_probe(shot.page, "standard", shot.line)
    if not probe:
        form, folded = _measuring(shot, "standard", "")
        return Task(sentence=_measured(shot, "standard"), form=form, folded=folded)
    side = side_now(shot.rows, probe, shot.now_ms)
    unit = shot.reader.temperature_unit
    warm = ""
    if side is not None and math.isfinite(side.temp_c):
        warm = f"{TEMPERATURE.from_base(side.temp_c, unit):.1f}"
    fields = (
        Field(name="temp", label=say("fit.standard.temp"), unit=TEMPERATURE.unit(unit).sign,
              value=shot.draft("standard", "temp", warm), step=0.5),
        Field(name="label", label=say("fit.standard.label"), unit="µS/cm",
              value=shot.draft("standard", "label", f"{shot.page.label_us_cm:g}")),
    )  # fmt: skip
    form, folded = _measuring(shot, "standard", probe, fields)
    return Task(
        sentence=say(f"fit.standard.do.{probe}"),
        then=say("fit.standard.then"),
        live=probe_live(shot, (probe,)),
        form=form,
        folded=folded,
        care=(say("fit.care.standard"),),
    )


def zero(shot: Shot) -> Task:
    """Both probes in raw water at one time."""
    say = shot.reader.say
    open_ = "" if shot.page.zero else "outlet"
    form, folded = _measuring(shot, "zero", open_)
    both = shot.line.inlet_probe
    return Task(
        sentence=say("fit.zero.do" if both else "fit.zero.do-one")
        if open_
        else _measured(shot, "zero"),
        then=say("fit.zero.then") if open_ else "",
        live=probe_live(shot, probes(shot.line), at_25=True) if open_ else (),
        form=form,
        folded=folded,
    )


def run(shot: Shot) -> Task:
    """Let it run: outlet conductivity settles where the model says."""
    say = shot.reader.say
    form, folded = _measuring(shot, "run", "" if shot.page.ran else "outlet")
    limits, seen = ec_limits(shot.page), None
    if shot.page.ran is not None:
        seen = ec25_of(shot.page.ran, shot.page, "outlet")
    drawn = Markup()
    if limits is not None and seen is not None:
        ends = (shot.shown.number(limits[0]), shot.shown.number(limits[1]))
        said = say("fit.ruler", low=ends[0], high=ends[1])
        drawn = ruler((seen,), *limits, ends, said)
    return Task(
        sentence=say("fit.run.do") if seen is None else _measured(shot, "run"),
        then=say("fit.run.then") if limits else say("fit.run.no-promise"),
        live=() if seen is not None else probe_live(shot, ("outlet",), at_25=True),
        form=form,
        folded=folded,
        care=(say("fit.care.standing"),),
        ruler=drawn,
    )


# --- jugs -----------------------------------------------------------------------------------------


def jugs(shot: Shot) -> Task:
    """Three jugs at full flow, three in a thin stream."""
    say, page = shot.reader.say, shot.page
    drawn = page.done.jugs_brew if page.brew else page.done.jugs_full
    whole = agree(page.done.jugs_full) and (page.no_brew or agree(page.done.jugs_brew))
    care = (say("fit.care.wet"),)
    ruled = _ruler(shot, drawn)
    if whole:
        form, _ = _measuring(shot, "jugs", "")
        return Task(
            sentence=_measured(shot, "jugs"), form=form, care=care, result=_k(shot), ruler=ruled
        )
    field = Field(
        name="jug", label=say("fit.jugs.holds"), unit=volume_sign(shot), step=0.05,
        value=shot.draft("jugs", "jug", "2.00"),
    )  # fmt: skip
    mark = f"{shot.reader.decimal(field.value)}\u202f{field.unit}"
    words = [
        (say("fit.jugs.nth", n=n + 1), say("fit.jugs.pulses", n=jug.pulses))
        for n, jug in enumerate(drawn[:3])
    ]
    filling = len(words) if page.since_ms else None
    place = min(len(drawn), fit.JUGS_LEAST) + 1
    key = "fit.jugs.do-brew" if page.brew else "fit.jugs.do"
    n_th = say(f"fit.count.{min(place, 3)}") if place <= fit.JUGS_LEAST else say("fit.jugs.another")
    return Task(
        sentence=say(key, nth=n_th),
        then=say("fit.jugs.then-brew" if page.brew else "fit.jugs.then"),
        drawing=jugs_drawing(words, filling, mark, say("fit.jugs.drawn", n=len(drawn))),
        live=jugs_live(shot),
        form=Form(fields=(field,) if page.since_ms else (), buttons=_jug_buttons(shot)),
        care=care,
        result=_k(shot),
        ruler=ruled,
    )  # fmt: skip


def _jug_buttons(shot: Shot) -> tuple[Button, ...]:
    say, page = shot.reader.say, shot.page
    again = Button(act="again", words=say("fit.jugs.all-anew"))
    if page.since_ms:
        return (
            Button(act="count", words=say("fit.jugs.full"), look="filled"),
            Button(act="throw", words=say("fit.jugs.throw")),
        )
    found = [Button(act="start", words=say("fit.jugs.start"), look="filled")]
    if page.brew and not page.done.jugs_brew:
        found.append(Button(act="no-brew", words=say("fit.jugs.no-brew")))
    if page.done.jugs_full:
        found.append(again)
    return tuple(found)


def jugs_live(shot: Shot) -> tuple[Live, ...]:
    """Pulses of this jug, about how many litres, the flow."""
    say, page = shot.reader.say, shot.page
    k = k_in_use(page, shot.line)
    pulses = litres = say("fit.none")
    if page.since_ms:
        spoke = counter_spoke(shot.rows, page.since_ms)
        n = pulses_since(shot.rows, page.since_ms)
        pulses = str(n) if spoke else say("fit.silent")
        litres = shot.shown.litres(n / k, 2) if spoke else "–"
    return (
        Live(key="pulses", name=say("fit.live.pulses"), value=pulses),
        Live(key="about", name=say("fit.live.about"), value=litres),
        Live(key="flow", name=say("fit.live.flow"), value=flow_words(shot, k)),
    )


def _k(shot: Shot) -> tuple[str, str] | None:
    found = k_found(shot.page)
    if found is None:
        return None
    value = shot.reader.say("fit.jugs.per-litre", n=shot.shown.number(found.value, 1))
    return shot.reader.say("fit.check.k"), value


def _ruler(shot: Shot, drawn: tuple[Jug, ...]) -> Markup:
    """Each jug's own figure between limits about their mean."""
    if len(drawn) < 2:
        return Markup()
    values = [jug.pulses_per_l for jug in drawn]
    mean, half = sum(values) / len(values), fit.JUGS_APART / 2
    low, high = mean * (1 - half), mean * (1 + half)
    ends = (shot.shown.number(low, 1), shot.shown.number(high, 1))
    said = shot.reader.say("fit.ruler", low=ends[0], high=ends[1])
    return ruler(values, low, high, ends, said)
