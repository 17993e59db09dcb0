"""Buttons of the steps with meters: dry, standard, raw water, jugs, let it run."""

from __future__ import annotations

import math
from typing import Any, Final

import msgspec

from analytics.calibration import JUGS_LEAST
from analytics.errors import ActRefused, ModelError
from analytics.samples import CrossZero, KFactorSet, Note, ProbeCalibrated
from dashboards.commissioning.meters import (
    agree,
    cell_of,
    ec25_of,
    k_found,
    look_of,
    side_now,
)
from dashboards.commissioning.moves import Ask, Move, changed, doing
from dashboards.commissioning.progress import Look, Progress, Zero
from dashboards.commissioning.promise import promised, proposal
from dashboards.commissioning.steps import next_probe, probes
from firmware_bridge.calibration.done import Done
from firmware_bridge.calibration.points import (
    dry_point,
    jug_of,
    standard_point,
    without_worst,
)
from firmware_bridge.calibration.steady import Side

LEAST_GAIN_SD: Final = 0.0005


def _side(ask: Ask, probe: str) -> Side:
    """A reading that stands. Raises ActRefused for one that is missing or still moves."""
    found = side_now(ask.rows, probe, ask.now_ms)
    if found is None:
        raise ActRefused([(f"probe.{probe}", "silent")])
    if not found.stands and not ask.typed.has("anyhow"):
        raise ActRefused([(f"probe.{probe}", "moves")])
    return found


def _done(ask: Ask, **more: Any) -> Done:
    return msgspec.structs.replace(ask.page.done, **more)


def _probe(ask: Ask, step: str) -> str:
    return next_probe(ask.page, step, ask.line) or probes(ask.line)[-1]


@doing("dry", "take")
def _dry(ask: Ask) -> Move:
    probe = _probe(ask, "dry")
    point = dry_point(_side(ask, probe))
    return Move(page=changed(ask, done=_done(ask, dry=ask.page.done.dry | {probe: point})))


@doing("dry", "again")
def _dry_again(ask: Ask) -> Move:
    return Move(page=changed(ask, done=_done(ask, dry={})))


@doing("dry", "pass")
def _dry_pass(ask: Ask) -> Move:
    return Move(page=ask.page, passed=True)


@doing("standard", "take")
def _standard(ask: Ask) -> Move:
    probe = _probe(ask, "standard")
    label = ask.typed.us_cm("label", 50.0, 20_000.0)
    side = _side(ask, probe)
    if ask.typed.has("temp"):
        temp_c = ask.typed.temp_c("temp")
    elif math.isfinite(side.temp_c):
        temp_c = min(max(side.temp_c, 0.0), 50.0)
    else:
        raise ActRefused([("temp", "missing")])
    point = standard_point(side, label, temp_c)
    done = _done(ask, standard=ask.page.done.standard | {probe: point})
    return Move(page=changed(ask, done=done, label_us_cm=label, draft={}))


@doing("standard", "again")
def _standard_again(ask: Ask) -> Move:
    return Move(page=changed(ask, done=_done(ask, standard={})))


@doing("standard", "pass")
def _standard_pass(ask: Ask) -> Move:
    acts: dict[str, Any] = {}
    for probe in probes(ask.line):
        cell = cell_of(ask.page, probe)
        if cell is not None:
            acts[probe] = ask.event(
                ProbeCalibrated,
                ask.say("fit.note.cell"),
                probe=probe,
                gain=cell.gain.value,
                relative_sd=max(cell.gain.relative_sd, LEAST_GAIN_SD),
                dry_us_cm=max(cell.dry_us_cm.value, 0.0),
            )
    return Move(page=ask.page, acts=acts, passed=True)


@doing("zero", "take")
def _zero(ask: Ask) -> Move:
    looks = {probe: look_of(_side(ask, probe)) for probe in probes(ask.line)}
    for probe, look in looks.items():
        if look.temp_c is None:
            raise ActRefused([(f"probe.{probe}", "no-temp")])
    return Move(page=changed(ask, zero=Zero(outlet=looks["outlet"], inlet=looks.get("inlet"))))


@doing("zero", "again")
def _zero_again(ask: Ask) -> Move:
    return Move(page=changed(ask, zero=None))


@doing("zero", "pass")
def _zero_pass(ask: Ask) -> Move:
    zero = ask.page.zero
    if zero is None:
        raise ActRefused([("probe.outlet", "silent")])
    act = ask.event(
        CrossZero,
        ask.say("fit.note"),
        outlet_us_cm=zero.outlet.us_cm,
        outlet_temp_c=zero.outlet.temp_c,
        inlet_us_cm=zero.inlet.us_cm if zero.inlet else None,
        inlet_temp_c=zero.inlet.temp_c if zero.inlet else None,
    )
    return Move(page=_raw_ec(ask, zero.inlet or zero.outlet), acts={"zero": act}, passed=True)


def _raw_ec(ask: Ask, look: Look) -> Progress:
    """Raw conductivity is known better now: what was promised of it, too."""
    probe = "inlet" if ask.page.zero and ask.page.zero.inlet else "outlet"
    ec25 = ec25_of(look, ask.page, probe)
    if ec25 is None or ask.page.promise is None:
        return ask.page
    taken = ask.page.promise
    page = changed(ask, ec25_us_cm=ec25, family=taken.family, share=taken.share)
    try:
        found = proposal(page, ask.line)
        return page if found is None else msgspec.structs.replace(page, promise=promised(found))
    except ModelError:
        return ask.page  # this conductivity and the drop tests cannot be one water: keep the tests


# --- jugs -----------------------------------------------------------------------------------------


@doing("jugs", "start")
def _start(ask: Ask) -> Move:
    return Move(page=changed(ask, since_ms=ask.now_ms))


@doing("jugs", "count")
def _count(ask: Ask) -> Move:
    """The jug is full. Three that do not agree lose the one furthest from their middle."""
    page = ask.page
    if not page.since_ms:
        raise ActRefused([("jug", "not-begun")])
    litres = ask.typed.litres("jug", 0.05, 200.0)
    since = ask.rows.pick((ask.rows.at_ms > page.since_ms).nonzero()[0])
    jug = jug_of(since, page.since_ms, litres)
    if jug is None:
        raise ActRefused([("jug", "no-pulse")])
    kind = "jugs_brew" if page.brew else "jugs_full"
    jugs = (*getattr(page.done, kind), jug)
    if len(jugs) > JUGS_LEAST and not agree(jugs):
        jugs = without_worst(jugs)
    done = _done(ask, **{kind: jugs})
    brew = page.brew or (agree(done.jugs_full) and not page.no_brew)
    held = {f"jugs.{n}": v for n, v in ask.typed.fields.items() if n == "jug"}
    return Move(page=changed(ask, done=done, brew=brew, since_ms=0, draft=held))


@doing("jugs", "throw")
def _throw(ask: Ask) -> Move:
    return Move(page=changed(ask, since_ms=0))


@doing("jugs", "again")
def _jugs_again(ask: Ask) -> Move:
    done = _done(ask, jugs_full=(), jugs_brew=())
    return Move(page=changed(ask, done=done, brew=False, no_brew=False, since_ms=0))


@doing("jugs", "no-brew")
def _no_brew(ask: Ask) -> Move:
    return Move(page=changed(ask, no_brew=True, brew=False, since_ms=0))


@doing("jugs", "pass")
def _jugs_pass(ask: Ask) -> Move:
    found = k_found(ask.page)
    if found is None:
        raise ActRefused([("jug", "too-few")])
    full, brew = len(ask.page.done.jugs_full), len(ask.page.done.jugs_brew)
    act = ask.event(
        KFactorSet,
        ask.say("fit.note.jugs", full=full, brew=brew),
        pulses_per_l=found.value,
        relative_sd=max(found.relative_sd, 0.001),
    )
    return Move(page=ask.page, acts={"k": act}, passed=True)


# --- let it run -----------------------------------------------------------------------------------


@doing("run", "take")
def _run(ask: Ask) -> Move:
    return Move(page=changed(ask, ran=look_of(_side(ask, "outlet"))))


@doing("run", "again")
def _run_again(ask: Ask) -> Move:
    return Move(page=changed(ask, ran=None))


@doing("run", "pass")
def _run_pass(ask: Ask) -> Move:
    if ask.page.ran is None:
        raise ActRefused([("probe.outlet", "silent")])
    ec25 = ec25_of(ask.page.ran, ask.page, "outlet")
    told = {} if ec25 is None else {"ec25": f"{ec25:.0f}"}
    note = ask.say("fit.note.settled" if told else "fit.note", **told)
    return Move(page=ask.page, acts={"note": ask.event(Note, note)}, passed=True)
