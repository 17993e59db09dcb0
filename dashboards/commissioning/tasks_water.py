"""The tasks at the tap as screens: flush, cartridge, drop tests, bypass, hand-over."""

from __future__ import annotations

import msgspec

from analytics.quantities import CAPACITY, HARDNESS, VOLUME
from analytics.samples import DAY_MS
from dashboards.acts.forms import typed_moment
from dashboards.commissioning.checks import (
    OUTSIDE,
    allowed_blend,
    blend_off,
    checks_of,
    promised_of,
    suggested_share,
)
from dashboards.commissioning.counting import drop_size, finished, reading
from dashboards.commissioning.drawings import drops
from dashboards.commissioning.meters import counter_spoke, flow_now, k_in_use, pulses_since
from dashboards.commissioning.progress import Tally
from dashboards.commissioning.screen import Button, Field, Form, Live, Shot, Task
from dashboards.commissioning.steps import STEPS, kinds_tested, passed_over

BACK_DAYS = 180


def volume_sign(shot: Shot) -> str:
    """ "L" or "US gal"."""
    return VOLUME.unit(shot.reader.volume_unit).sign


def in_reader(shot: Shot, litres: float, digits: int = 2) -> str:
    """A volume as a field holds it."""
    return f"{VOLUME.from_base(litres, shot.reader.volume_unit):.{digits}f}".rstrip("0").rstrip(".")


# --- flush ----------------------------------------------------------------------------------------


def flush(shot: Shot) -> Task:
    """Isolate, fit, flush to drain, look for drips."""
    say, page = shot.reader.say, shot.page
    asked = Field(
        name="flush_asked", label=say("fit.flush.asked"), unit=volume_sign(shot), step=1.0,
        value=shot.draft("flush", "flush_asked", in_reader(shot, page.flush_asked_l)),
    )  # fmt: skip
    typed = Field(
        name="flushed", label=say("fit.flush.typed"), unit=volume_sign(shot),
        value=shot.draft("flush", "flushed"),
    )  # fmt: skip
    enough = Button(act="pass", words=say("fit.flush.pass"), look="filled")
    drips = Button(act="drips", words=say("fit.flush.drips"))
    care = (say("fit.care.plumbing"), say("fit.care.electricity"))
    if not shot.line.flow_meter:
        form = Form(fields=(asked, typed), buttons=(enough, drips))
        return Task(sentence=say("fit.flush.do"), then=say("fit.flush.then-typed"), form=form,
                    care=care)  # fmt: skip
    if not page.since_ms:
        begin = Button(act="start", words=say("fit.flush.start"), look="filled")
        form = Form(fields=(asked,), buttons=(begin,))
        by_hand = Form(title=say("fit.flush.by-hand"), fields=(typed,),
                       buttons=(Button(act="pass", words=say("fit.flush.pass")),))  # fmt: skip
        return Task(sentence=say("fit.flush.do"), then=say("fit.flush.then"), form=form,
                    folded=(by_hand,), live=flush_live(shot), care=care)  # fmt: skip
    form = Form(
        fields=(asked,),
        buttons=(enough, drips, Button(act="start", words=say("fit.flush.anew"))),
    )
    return Task(sentence=say("fit.flush.run"), then=say("fit.flush.then-run"), form=form,
                live=flush_live(shot), care=care)  # fmt: skip


def flush_live(shot: Shot) -> tuple[Live, ...]:
    """Litres so far, and the flow."""
    say, page = shot.reader.say, shot.page
    if not shot.line.flow_meter:
        return ()
    k = k_in_use(page, shot.line)
    litres = say("fit.none")
    if page.since_ms:
        spoke = counter_spoke(shot.rows, page.since_ms)
        counted = pulses_since(shot.rows, page.since_ms) / k
        litres = shot.shown.litres(counted) if spoke else say("fit.silent")
    return (
        Live(key="litres", name=say("fit.live.litres"), value=litres),
        Live(key="flow", name=say("fit.live.flow"), value=flow_words(shot, k)),
    )


def flow_words(shot: Shot, k: float) -> str:
    """The flow now, or that nothing is heard."""
    found = flow_now(shot.rows, shot.now_ms, k)
    if found is None:
        return shot.reader.say("fit.silent")
    if shot.reader.volume_unit == "L":
        return f"{shot.shown.number(found, 1)}\u202fL/min"
    return f"{shot.shown.number(VOLUME.from_base(found, 'gal'), 2)}\u202fUS gpm"


# --- cartridge ------------------------------------------------------------------------------------


def cartridge(shot: Shot) -> Task:
    """What stands here, and which cartridge went in."""
    say, page, line = shot.reader.say, shot.page, shot.line
    local = shot.site.local_time
    told = page.cartridge
    usual = "unknown" if told.low_l is None else "new" if not told.high_l else "some"
    when = typed_moment(told.fitted_ms or shot.now_ms, local)
    sign = volume_sign(shot)
    fields = (
        Field(name="cartridge_id", label=say("field.cartridge_id"), sort="text",
              value=shot.draft("cartridge", "cartridge_id", told.serial)),
        Field(name="fitted", label=say("fit.cartridge.fitted"), sort="moment",
              value=shot.draft("cartridge", "fitted", when)),
        Field(name="before", label=say("fit.cartridge.before"), sort="choice",
              value=shot.draft("cartridge", "before", usual),
              choices=tuple((w, say(f"fit.before.{w}")) for w in ("new", "some", "unknown"))),
        Field(name="before_low", label=say("fit.cartridge.low"), unit=sign,
              value=shot.draft("cartridge", "before_low",
                               in_reader(shot, told.low_l, 0) if told.low_l else "")),
        Field(name="before_high", label=say("fit.cartridge.high"), unit=sign,
              value=shot.draft("cartridge", "before_high",
                               in_reader(shot, told.high_l, 0) if told.high_l else "")),
    )  # fmt: skip
    facts = [
        (say("paper.place"), shot.site.name),
        (say("paper.machines"), ", ".join(line.machines) or "–"),
        (say("paper.medium"), say(f"medium.{line.medium}")),
    ]
    if line.capacity_mmol is not None:
        facts.append((say("paper.capacity"), CAPACITY.shown(line.capacity_mmol, "dH*L")))
    return Task(
        sentence=say("fit.cartridge.do"),
        then=say("fit.cartridge.then"),
        table=tuple(facts),
        form=Form(
            fields=fields,
            buttons=(Button(act="pass", words=say("fit.cartridge.pass"), look="filled"),),
        ),
        care=(say("fit.care.old-cartridge"),),
    )


# --- drop tests -----------------------------------------------------------------------------------


def raw(shot: Shot) -> Task:
    """Raw water: hardness and alkalinity twice each, what else is known."""
    say = shot.reader.say
    if any(not finished(shot.page.tally("raw", k)) for k in kinds_tested("raw", shot.line)):
        return _count(shot, "raw")
    typed = (("ec25", "µS/cm", shot.page.ec25_us_cm), ("chloride", "mg/L", shot.page.chloride_mg_l),
             ("ph", "", shot.page.ph))  # fmt: skip
    fields = tuple(
        Field(name=n, label=say(f"fit.raw.{n}"), unit=u,
              value=shot.draft("raw", n, "" if v is None else f"{v:g}"))
        for n, u, v in typed
    )  # fmt: skip
    return Task(
        sentence=say("fit.raw.done"),
        then=say("fit.raw.more"),
        form=Form(
            fields=fields,
            buttons=(Button(act="pass", words=say("fit.write"), look="filled"),
                     *_recounts(shot, "raw")),
        ),
        table=_counts_table(shot, "raw"),
        care=(say("fit.care.safe"),),
    )  # fmt: skip


def _current(shot: Shot, water: str) -> str:
    kinds = kinds_tested(water, shot.line)
    return next((k for k in kinds if not finished(shot.page.tally(water, k))), kinds[-1])


def _count(shot: Shot, water: str) -> Task:
    say = shot.reader.say
    kind = _current(shot, water)
    tally = shot.page.tally(water, kind)
    what = say(f"fit.kind.{kind}")
    nth = say(f"fit.count.{len(tally.counts) + 1}")
    then = say(f"fit.count.then-{water}")
    if tally.counts:
        then = say("fit.count.hidden" if len(tally.counts) == 1 else "fit.count.third")
    buttons = [Button(act="drop", words=say("fit.drop"), look="drop")]
    if tally.drops:
        buttons += [
            Button(act="turned", words=say("fit.turned")),
            Button(act="back", words=say("fit.back")),
        ]
    elif tally.counts:
        buttons.append(Button(act="recount", words=say("fit.recount", what=what),
                              also=("kind", kind)))  # fmt: skip
    return Task(
        sentence=say("fit.count.do", what=what, nth=nth),
        then=then,
        drawing=drops(tally.drops, say("fit.drops", n=tally.drops)),
        said=(_means(shot, kind, tally),),
        form=Form(buttons=tuple(buttons)),
        folded=(_value_form(shot, water, kind), _size_form(shot, water)),
        table=_counts_table(shot, water),
    )


def _means(shot: Shot, kind: str, tally: Tally) -> str:
    """What the drops so far would say."""
    if not tally.drops:
        return shot.reader.say("fit.no-drop")
    size = drop_size(kind, shot.page)
    between = shot.shown.water_between(kind, (tally.drops - 1) * size, tally.drops * size)
    return shot.reader.say("fit.means", n=tally.drops, between=between)


def _value_form(shot: Shot, water: str, kind: str) -> Form:
    say = shot.reader.say
    field = Field(
        name="value", label=say(f"fit.kind.{kind}"), unit=HARDNESS.unit(
            shot.reader.hardness_unit).sign, value=shot.draft(water, "value"),
    )  # fmt: skip
    return Form(
        title=say("fit.value"),
        fields=(field,),
        buttons=(Button(act="value", words=say("fit.take")),),
    )


def _size_form(shot: Shot, water: str) -> Form:
    say, unit = shot.reader.say, shot.reader.hardness_unit
    now = f"{HARDNESS.from_base(shot.page.drop_mmol_l, unit):.4g}"
    field = Field(
        name="drop", label=say("fit.drop-size"), unit=HARDNESS.unit(unit).sign,
        value=shot.draft(water, "drop", now),
    )  # fmt: skip
    title = say("fit.drop-is", figure=f"{shot.reader.decimal(now)}\u202f{HARDNESS.unit(unit).sign}")
    return Form(title=title, fields=(field,), buttons=(Button(act="size", words=say("fit.take")),))


def _counts_table(shot: Shot, water: str) -> tuple[tuple[str, ...], ...]:
    """First, again, third, and so it is; a count is hidden until the next one is whole."""
    say, rows = shot.reader.say, []
    for kind in kinds_tested(water, shot.line):
        tally = shot.page.tally(water, kind)
        done = finished(tally)
        counts = [say("fit.n-drops", n=c) if done else say("fit.counted") for c in tally.counts]
        found = reading(kind, tally, shot.page)
        so = "" if found is None else shot.shown.water_between(kind, found.low, found.high)
        name = say(f"fit.kind.{kind}")
        if not counts and found is None:
            continue
        rows.append(
            (name, " · ".join(counts) or ("" if found is None else say("fit.as-value")), so)
        )
    return tuple(rows)


def _recounts(shot: Shot, water: str) -> tuple[Button, ...]:
    return tuple(
        Button(act="recount", also=("kind", kind),
               words=shot.reader.say("fit.recount", what=shot.reader.say(f"fit.kind.{kind}")))
        for kind in kinds_tested(water, shot.line)
    )  # fmt: skip


def blended(shot: Shot) -> Task:
    """The machine's water against what was promised."""
    say, page = shot.reader.say, shot.page
    if any(not finished(page.tally("blended", k)) for k in kinds_tested("blended", shot.line)):
        task = _count(shot, "blended")
        return _with_promise(shot, task)
    off = blend_off(page, shot.line)
    if off:
        share = suggested_share(page, shot.line)
        if share is None:
            share = page.set_share or 0.0
        value = shot.draft("blended", "share", f"{100 * share:.0f}")
        field = Field(name="share", label=say("fit.bypass.set"), value=value, unit="%", step=5.0)
        form = Form(
            fields=(field,),
            buttons=(Button(act="again", words=say("fit.blended.turned"), look="filled"),
                     *_recounts(shot, "blended")),
        )  # fmt: skip
        key = "fit.blended.down" if off > 0 else "fit.blended.up"
        task = Task(sentence=say(key), then=say("fit.blended.aim", share=f"{100 * share:.0f}"),
                    form=form, table=_counts_table(shot, "blended"))  # fmt: skip
        return _with_promise(shot, task)
    known = page.promise is not None
    form = Form(
        buttons=(Button(act="pass", words=say("fit.blended.pass"), look="filled"),
                 *_recounts(shot, "blended"))
        if known else _recounts(shot, "blended")
    )  # fmt: skip
    key = "fit.blended.right" if known else "fit.blended.no-promise"
    task = Task(sentence=say(key), form=form, table=_counts_table(shot, "blended"))
    return _with_promise(shot, task)


def _with_promise(shot: Shot, task: Task) -> Task:
    said = []
    for kind in kinds_tested("blended", shot.line):
        found, limits = promised_of(kind, shot.page), allowed_blend(kind, shot.page)
        if found is not None and limits is not None:
            said.append(
                shot.reader.say(
                    "fit.blended.promised",
                    what=shot.reader.say(f"fit.kind.{kind}"),
                    figure=shot.shown.water_spread(kind, found),
                )
            )
    care = (shot.reader.say("fit.care.test"), shot.reader.say("fit.care.acid"))
    return msgspec.structs.replace(task, said=(*task.said, *said), care=care)


# --- bypass, hand-over ----------------------------------------------------------------------------


def bypass(shot: Shot) -> Task:
    """Turn the head to what was taken."""
    say, page = shot.reader.say, shot.page
    aim = page.promise.share if page.promise else shot.line.bypass
    there = aim if page.set_share is None else page.set_share
    value = shot.draft("bypass", "share", f"{100 * there:.0f}")
    field = Field(name="share", label=say("fit.bypass.set"), value=value, unit="%", step=5.0)
    return Task(
        sentence=say("fit.bypass.do", share=f"{100 * aim:.0f}"),
        then=say("fit.bypass.then" if page.promise else "fit.bypass.no-promise"),
        form=Form(
            fields=(field,),
            buttons=(Button(act="pass", words=say("fit.bypass.pass"), look="filled"),),
        ),
        care=(say("fit.care.acid"),),
    )


def _hand_over(shot: Shot) -> Button:
    """Filled while it is the thing to do."""
    done = "handover" in shot.page.taken
    key = "fit.handover.again" if done else "fit.handover.pass"
    return Button(act="pass", words=shot.reader.say(key), look="other" if done else "filled")


def handover(shot: Shot) -> Task:
    """Everything once more, the date to come back, the record."""
    say, page = shot.reader.say, shot.page
    open_ = [s for s in STEPS[:-1] if s not in page.taken and not passed_over(s, shot.line)]
    outside = [s for s in STEPS[:-1] for c in checks_of(s, page, shot.line, shot.reader)
               if c.sign == OUTSIDE]  # fmt: skip
    back = typed_moment(page.back_ms or shot.now_ms + BACK_DAYS * DAY_MS, shot.site.local_time)
    key = "fit.handover.done" if "handover" in page.taken else "fit.handover.do"
    if open_ and "handover" not in page.taken:
        key = "fit.handover.open"
    said = [say("fit.handover.step", step=say(f"fit.step.{s}")) for s in open_]
    said += [say("fit.handover.outside", step=say(f"fit.step.{s}")) for s in dict.fromkeys(outside)]
    query = f"?kind=handover&line={shot.line.line_id}"
    return Task(
        sentence=say(key),
        then=say("fit.handover.then"),
        said=tuple(said),
        form=Form(
            fields=(Field(name="back", label=say("fit.handover.back"), sort="moment",
                          value=shot.draft("handover", "back", back)),),
            buttons=(_hand_over(shot),),
        ),
        folded=(Form(title=say("fit.handover.anew"),
                     buttons=(Button(act="anew", words=say("fit.handover.anew-do")),)),),
        links=((f"/paper/get{query}", say("fit.handover.record")),),
        care=(say("fit.care.test"), say("fit.care.safe"), say("fit.care.standing")),
    )  # fmt: skip
