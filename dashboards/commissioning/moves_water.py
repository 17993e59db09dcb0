"""Buttons of the steps at the tap: flush, cartridge, drop tests, proposal, bypass, hand-over."""

from __future__ import annotations

from typing import Any, Final

import msgspec

from analytics.errors import ActRefused, ModelError
from analytics.quantities import HARDNESS
from analytics.samples import BypassSet, CartridgeFitted, DropTest, Note, Point
from analytics.survey.plan import Survey
from analytics.survey.site import Aim, Boilers, Material
from dashboards.commissioning import counting
from dashboards.commissioning.checks import blend_off
from dashboards.commissioning.counting import drop_size, finished, reading
from dashboards.commissioning.meters import counter_spoke, k_in_use, pulses_since
from dashboards.commissioning.moves import Ask, Move, changed, doing
from dashboards.commissioning.progress import Cartridge, Machine, Tally
from dashboards.commissioning.promise import nudged, promised, proposal
from dashboards.commissioning.steps import kinds_tested

MOST_L: Final = 1e6
WATERS: Final = {"raw": Point.RAW, "blended": Point.BLENDED}


# --- flush ----------------------------------------------------------------------------------------


@doing("flush", "start")
def _start(ask: Ask) -> Move:
    return Move(page=changed(ask, since_ms=ask.now_ms, flushed_l=None, drips=False))


@doing("flush", "drips")
def _drips(ask: Ask) -> Move:
    return Move(page=changed(ask, drips=True))


@doing("flush", "pass")
def _flushed(ask: Ask) -> Move:
    asked = ask.page.flush_asked_l
    if ask.typed.has("flush_asked"):
        asked = ask.typed.litres("flush_asked", 0.1, 1000.0)
    if ask.typed.has("flushed"):
        litres = ask.typed.litres("flushed", 0.0, MOST_L)
    elif ask.page.since_ms and counter_spoke(ask.rows, ask.page.since_ms):
        litres = pulses_since(ask.rows, ask.page.since_ms) / k_in_use(ask.page, ask.line)
    else:
        raise ActRefused([("flushed", "missing")])
    page = changed(ask, flushed_l=litres, flush_asked_l=asked, drips=False)
    return Move(page=page, passed=True)


# --- cartridge ------------------------------------------------------------------------------------


@doing("cartridge", "pass")
def _fitted(ask: Ask) -> Move:
    typed = ask.typed
    serial = typed.text("cartridge_id")
    if not serial:
        raise ActRefused([("cartridge_id", "missing")])
    at_ms = typed.moment("fitted") if typed.has("fitted") else ask.now_ms
    low, high = _before(ask)
    cartridge = Cartridge(serial=serial, fitted_ms=at_ms, low_l=low, high_l=high)
    middle, sd = cartridge.before
    act = ask.event(
        CartridgeFitted, ask.say("fit.note"), at_ms, cartridge_id=serial, litres_before=middle,
        litres_before_sd=sd,
    )  # fmt: skip
    return Move(page=changed(ask, cartridge=cartridge), acts={"cartridge": act}, passed=True)


def _before(ask: Ask) -> tuple[float | None, float | None]:
    """Litres that had passed: new, a number, a range or not known."""
    how = ask.typed.fields.get("before", "new")
    if how == "new":
        return 0.0, 0.0
    if how == "unknown":
        return None, None
    if how != "some":
        raise ActRefused([("before", "choice")])
    low = ask.typed.litres("before_low", 0.0, MOST_L)
    high = ask.typed.litres("before_high", 0.0, MOST_L) if ask.typed.has("before_high") else low
    return min(low, high), max(low, high)


# --- drop tests -----------------------------------------------------------------------------------


def current_kind(ask: Ask, water: str) -> str:
    """What is counted now; the last kind when all are done."""
    kinds = kinds_tested(water, ask.line)
    open_ = [k for k in kinds if not finished(ask.page.tally(water, k))]
    return open_[0] if open_ else kinds[-1]


def _tallied(ask: Ask, water: str, kind: str, tally: Tally) -> Move:
    return Move(page=changed(ask, tallies=ask.page.tallies | {f"{water}.{kind}": tally}, draft={}))


def _counting(water: str) -> None:
    """The buttons of a drop test of one water."""
    works = {"drop": counting.dropped, "back": counting.took_back, "turned": counting.turned}

    for act, work in works.items():

        def count(ask: Ask, work: Any = work) -> Move:
            kind = current_kind(ask, water)
            tally = ask.page.tally(water, kind)
            if finished(tally):
                return Move(page=ask.page)
            return _tallied(ask, water, kind, work(tally))

        doing(water, act)(count)

    @doing(water, "value")
    def value(ask: Ask) -> Move:
        kind = current_kind(ask, water)
        high = 100.0 if kind == "alkalinity" else 50.0
        found = ask.typed.water("value", kind, 0.0, high)
        return _tallied(ask, water, kind, Tally(value=found))

    @doing(water, "size")
    def size(ask: Ask) -> Move:
        unit = ask.typed.reader.hardness_unit
        drop = HARDNESS.to_base(ask.typed.number("drop", 0.01, 1000.0), unit)
        if not 0.001 <= drop <= 2.0:
            raise ActRefused([("drop", "span")])
        return Move(page=changed(ask, drop_mmol_l=drop, draft={}))

    @doing(water, "recount")
    def recount(ask: Ask) -> Move:
        kind = ask.typed.fields.get("kind", "")
        if kind not in kinds_tested(water, ask.line):
            raise ActRefused([("kind", "choice")])
        return _tallied(ask, water, kind, Tally())

    @doing(water, "pass")
    def accept(ask: Ask) -> Move:
        page = _known_more(ask) if water == "raw" else ask.page
        ask = msgspec.structs.replace(ask, page=page)
        act = _drop_test(ask, water)
        return Move(page=page, acts={} if act is None else {"test": act}, passed=True)


def _known_more(ask: Ask) -> Any:
    typed = ask.typed
    return changed(
        ask,
        ec25_us_cm=typed.us_cm("ec25", 1.0, 20_000.0) if typed.has("ec25") else ask.page.ec25_us_cm,
        chloride_mg_l=typed.number("chloride", 0.0, 20_000.0)
        if typed.has("chloride")
        else ask.page.chloride_mg_l,
        ph=typed.number("ph", 3.0, 12.0) if typed.has("ph") else ask.page.ph,
    )


def _drop_test(ask: Ask, water: str) -> DropTest | None:
    """What was counted, as one act."""
    figures: dict[str, Any] = {}
    for kind in kinds_tested(water, ask.line):
        found = reading(kind, ask.page.tally(water, kind), ask.page)
        if found is None:
            continue
        step = found.step or drop_size(kind, ask.page)
        figures[counting.FIELDS[kind]] = found.middle + step / 2
        figures[counting.STEP_FIELDS[kind]] = step
    if not figures:
        return None
    test: DropTest = ask.event(DropTest, ask.say("fit.note"), point=WATERS[water], **figures)
    return test


_counting("raw")
_counting("blended")


@doing("blended", "again")
def _again(ask: Ask) -> Move:
    """The head was turned: the test that told so is written down, and counted anew."""
    if not blend_off(ask.page, ask.line):
        raise ActRefused([("step", "choice")])
    share = ask.typed.number("share", 0.0, 95.0) / 100.0
    fresh = {k: t for k, t in ask.page.tallies.items() if not k.startswith("blended.")}
    page = changed(ask, tallies=fresh, set_share=share, by_test=True, draft={})
    test = _drop_test(ask, "blended")
    acts: dict[str, Any] = {} if test is None else {"test": test}
    acts["set"] = ask.event(BypassSet, ask.say("fit.note"), share=share)
    return Move(page=page, acts=acts)


# --- proposal -------------------------------------------------------------------------------------


def asked(ask: Ask) -> Survey:
    """The survey as it stands. Raises ActRefused where raw water is not known, or cannot be."""
    try:
        found = proposal(ask.page, ask.line)
    except ModelError as fault:
        raise ActRefused([("hardness_mmol_l", "span")], str(fault)) from fault
    if found is None:
        raise ActRefused([("hardness_mmol_l", "missing")])
    return found


def _share(ask: Ask) -> float:
    best = asked(ask).best
    return best.bypass.share if best.bypass is not None else 0.0


@doing("proposal", "less")
def _less(ask: Ask) -> Move:
    return Move(page=changed(ask, share=nudged(_share(ask), up=False)))


@doing("proposal", "more")
def _more(ask: Ask) -> Move:
    return Move(page=changed(ask, share=nudged(_share(ask), up=True)))


@doing("proposal", "show")
def _show(ask: Ask) -> Move:
    return Move(page=changed(ask, share=ask.typed.number("share", 0.0, 90.0) / 100.0, draft={}))


@doing("proposal", "family")
def _family(ask: Ask) -> Move:
    family = ask.typed.fields.get("family", "")
    if family not in {each.family for each in asked(ask).candidates}:
        raise ActRefused([("family", "choice")])
    return Move(page=changed(ask, family=family, share=None))


@doing("proposal", "machine")
def _machine(ask: Ask) -> Move:
    typed = ask.typed
    machine = Machine(
        boilers=typed.choice("boilers", Boilers, Boilers.BOTH),
        material=typed.choice("material", Material, Material.UNKNOWN),
        aim=typed.choice("aim", Aim, Aim.TASTE),
        low_sodium=typed.fields.get("low_sodium", "") == "yes",
        litres_a_day=typed.litres("litres_a_day", 0.1, 1e5) if typed.has("litres_a_day") else None,
    )
    return Move(page=changed(ask, machine=machine, share=None, draft={}))


@doing("proposal", "take")
def _take(ask: Ask) -> Move:
    try:
        promise = promised(asked(ask))
    except ModelError as fault:
        raise ActRefused([("family", "span")], str(fault)) from fault
    page = changed(ask, promise=promise)
    if promise.family != ask.line.medium or promise.against:
        return Move(page=page)
    taken = msgspec.structs.replace(page, share=promise.share, family=promise.family)
    return Move(page=taken, passed=True)


# --- bypass, hand-over ----------------------------------------------------------------------------


@doing("bypass", "pass")
def _set(ask: Ask) -> Move:
    share = ask.typed.number("share", 0.0, 95.0) / 100.0
    act = ask.event(BypassSet, ask.say("fit.note"), share=share)
    return Move(page=changed(ask, set_share=share, by_test=False), acts={"set": act}, passed=True)


@doing("handover", "pass")
def _hand_over(ask: Ask) -> Move:
    back = ask.typed.moment("back") if ask.typed.has("back") else None
    act = ask.event(Note, ask.say("fit.note.handover"))
    return Move(page=changed(ask, back_ms=back), acts={"note": act}, passed=True)
