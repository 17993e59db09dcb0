"""What came out against what is allowed, step by step, in the reader's words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import msgspec

from analytics import calibration as fit
from analytics.calibration import Jug
from analytics.chemistry.saturation import BREW_BOILER
from analytics.samples import Spread
from analytics.setup import LineSetup
from dashboards.commissioning.counting import drop_size, finished, reading
from dashboards.commissioning.meters import agree, cell_of, ec25_of, k_found
from dashboards.commissioning.progress import MOST_COUNTS, Progress
from dashboards.commissioning.promise import window_of
from dashboards.commissioning.shown import Shown
from dashboards.commissioning.steps import kinds_tested, passed_over, probes
from dashboards.phrases.reader import Reader

PASS, NOT_YET, OUTSIDE = "pass", "not-yet", "outside"
ZERO_APART: Final = 0.05
"""Two probes in one water, each by its own calibration (common practice, no source)."""
SHARE_OFF: Final = 0.05
"""How near the head is set to what was taken (marks of a head, common practice, no source)."""
EC_ROOM: Final = 0.03
PLATE_OFF: Final = 0.15
"""A turbine's plate is a guide (common practice, no source)."""
LEAST_CHANCE: Final = 0.5


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """One check: its sign, what was looked at, what came out, what is allowed; whether a step needs
    it to pass."""

    sign: str
    what: str
    result: str
    allowed: str
    needed: bool = True


class _Desk(msgspec.Struct, frozen=True, kw_only=True):
    page: Progress
    line: LineSetup
    reader: Reader

    @property
    def shown(self) -> Shown:
        return Shown(reader=self.reader)

    def check(self, held: bool | None, what: str, result: str, allowed: str) -> Check:
        sign = NOT_YET if held is None else PASS if held else OUTSIDE
        said = result or self.reader.say("fit.nothing-yet")
        return Check(sign=sign, what=what, result=said, allowed=f"[{allowed}]" if allowed else "")


def checks_of(step: str, page: Progress, line: LineSetup, reader: Reader) -> tuple[Check, ...]:
    """The checks of a step; none where the line has no such step."""
    if passed_over(step, line):
        return ()
    return tuple(_CHECKS[step](_Desk(page=page, line=line, reader=reader)))


def passes(step: str, page: Progress, line: LineSetup, reader: Reader) -> bool:
    """Whether every check of a step passes that it needs, and none is outside."""
    found = checks_of(step, page, line, reader)
    return all(c.sign == PASS or (not c.needed and c.sign == NOT_YET) for c in found)


def _flush(desk: _Desk) -> Iterator[Check]:
    page, say, shown = desk.page, desk.reader.say, desk.shown
    done = page.flushed_l
    yield desk.check(
        None if done is None else done >= page.flush_asked_l * 0.98,
        say("fit.check.flushed"),
        "" if done is None else shown.litres(done),
        say("fit.at-least", figure=shown.litres(page.flush_asked_l)),
    )
    dry = None if done is None and not page.drips else not page.drips
    said = "" if dry is None else say("fit.dry-joints" if dry else "fit.drips")
    yield desk.check(dry, say("fit.check.joints"), said, say("fit.dry-joints"))


def _cartridge(desk: _Desk) -> Iterator[Check]:
    page, say, shown = desk.page, desk.reader.say, desk.shown
    held, cartridge = "cartridge" in page.taken, page.cartridge
    yield desk.check(
        True if held and cartridge.serial else None, say("field.cartridge_id"), cartridge.serial, ""
    )
    result = ""
    if held:
        low, high = cartridge.low_l, cartridge.high_l
        if low is None or high is None:
            result = say("fit.before.unknown")
        elif high <= 0.0:
            result = say("fit.before.new")
        elif low == high:
            result = shown.litres(low, 0)
        else:
            result = f"{shown.litres(low, 0)} – {shown.litres(high, 0)}"
    yield desk.check(True if held else None, say("fit.check.before"), result, "")


def _tests(desk: _Desk) -> Iterator[Check]:
    for kind in kinds_tested("raw", desk.line):
        tally = desk.page.tally("raw", kind)
        found = reading(kind, tally, desk.page)
        result = "" if found is None else desk.shown.water_between(kind, found.low, found.high)
        held: bool | None = None
        if found is not None:
            counts = sorted(tally.counts)
            wild = (
                len(counts) >= MOST_COUNTS and min(counts[1] - counts[0], counts[2] - counts[1]) > 1
            )
            held = not wild
        yield desk.check(
            held, desk.reader.say(f"fit.kind.{kind}"), result, desk.reader.say("fit.one-drop")
        )


def _proposal(desk: _Desk) -> Iterator[Check]:
    page, say, shown = desk.page, desk.reader.say, desk.shown
    taken = page.promise
    if taken is None:
        yield desk.check(None, say("fit.check.treatment"), "", "")
        return
    window = window_of(desk.line, page.machine.boilers)
    medium = say(f"medium.{taken.family}") if desk.reader.has(f"medium.{taken.family}") else (
        taken.family
    )  # fmt: skip
    yield desk.check(
        taken.family == desk.line.medium and not taken.against, say("fit.check.medium"), medium,
        say(f"medium.{desk.line.medium}"),
    )  # fmt: skip
    chance = taken.in_window
    if chance is not None:
        yield desk.check(
            chance >= LEAST_CHANCE, say("fit.check.window"),
            say("fit.cases", n=round(100 * chance)),
            say("fit.at-least", figure=str(round(100 * LEAST_CHANCE))),
        )  # fmt: skip
    if taken.brew_si is not None:
        boiler = shown.temp(BREW_BOILER.temp_c)
        yield desk.check(
            taken.brew_si.p50 <= window.si_watch, say("fit.check.scale", temp=boiler),
            _index(shown, taken.brew_si),
            say("fit.at-most", figure=_signed(shown, window.si_watch)),
        )  # fmt: skip
    if page.chloride_mg_l is None:
        untested = desk.check(None, say("fit.check.corrosion"), say("fit.no-chloride"), "")
        yield msgspec.structs.replace(untested, needed=False)
    else:
        limit = window.chloride_watch_mg_l
        yield desk.check(
            taken.chloride_mg_l.p50 <= limit, say("fit.check.corrosion"),
            f"{shown.number(taken.chloride_mg_l.p50)} mg/L",
            say("fit.at-most", figure=f"{shown.number(limit)} mg/L"),
        )  # fmt: skip


def _signed(shown: Shown, value: float) -> str:
    text = shown.number(value, 1)
    return text if value < 0 else f"+{text}"


def _index(shown: Shown, found: Spread) -> str:
    return f"SI {_signed(shown, found.p50)} ({shown.between(found.p05, found.p95, 1)})"


def _dry(desk: _Desk) -> Iterator[Check]:
    for probe in probes(desk.line):
        point = desk.page.done.dry.get(probe)
        limit = fit.DRY_MOST_US_CM
        yield desk.check(
            None if point is None else point.read_us_cm <= limit,
            desk.reader.say(f"fit.probe.{probe}"),
            "" if point is None else desk.shown.conductivity(point.read_us_cm),
            desk.shown.between(0, limit, 0, "µS/cm"),
        )


def _standard(desk: _Desk) -> Iterator[Check]:
    low, high = fit.CELL_USUAL
    for probe in probes(desk.line):
        cell, read = cell_of(desk.page, probe), desk.page.done.standard.get(probe)
        held = None if read is None else cell is not None and low <= cell.gain.value <= high
        result = ""
        if cell is not None:
            wide = 1.645 * cell.gain.sd
            ends = desk.shown.between(cell.gain.value - wide, cell.gain.value + wide, 3)
            result = f"{desk.shown.number(cell.gain.value, 3)} ({ends})"
        elif read is not None:
            result = desk.reader.say("fit.no-line")
        what = f"{desk.reader.say(f'fit.probe.{probe}')}, {desk.reader.say('fit.check.gain')}"
        yield desk.check(held, what, result, desk.shown.between(low, high, 2))


def _zero(desk: _Desk) -> Iterator[Check]:
    page, say, shown = desk.page, desk.reader.say, desk.shown
    zero = page.zero
    out = None if zero is None else ec25_of(zero.outlet, page, "outlet")
    into = None if zero is None or zero.inlet is None else ec25_of(zero.inlet, page, "inlet")
    if not desk.line.inlet_probe:
        result = "" if out is None else shown.conductivity(out)
        yield desk.check(None if out is None else True, say("fit.check.raw-ec"), result, "")
        return
    apart = None if out is None or not into else out / into - 1.0
    yield desk.check(
        None if apart is None else abs(apart) <= ZERO_APART,
        say("fit.check.apart"),
        "" if apart is None else shown.percent(apart, 1),
        say("fit.within", figure=f"±{shown.percent(ZERO_APART)}"),
    )


def _jugs(desk: _Desk) -> Iterator[Check]:
    page, say, shown = desk.page, desk.reader.say, desk.shown
    yield _jugs_of(desk, page.done.jugs_full, "fit.check.full")
    if not page.no_brew:
        yield _jugs_of(desk, page.done.jugs_brew, "fit.check.brew")
    found = k_found(page)
    if found is not None:
        off = found.value / desk.line.pulses_per_l - 1.0
        plate = desk.line.pulses_per_l
        allowed = shown.between(plate * (1 - PLATE_OFF), plate * (1 + PLATE_OFF))
        wide = 1.645 * found.sd
        ends = shown.between(found.value - wide, found.value + wide, 1)
        result = f"{shown.number(found.value, 1)} ({ends})"
        yield desk.check(abs(off) <= PLATE_OFF, say("fit.check.k"), result, allowed)


def _jugs_of(desk: _Desk, jugs: tuple[Jug, ...], key: str) -> Check:
    enough = len(jugs) >= fit.JUGS_LEAST
    result = desk.reader.say("fit.jugs-so-far", n=len(jugs), of=fit.JUGS_LEAST)
    if len(jugs) > 1:
        apart = desk.shown.percent(fit.jugs_apart(jugs), 1)
        result = f"{result}, {desk.reader.say('fit.apart', figure=apart)}"
    limit = desk.reader.say("fit.within", figure=desk.shown.percent(fit.JUGS_APART))
    return desk.check(agree(jugs) if enough else None, desk.reader.say(key), result, limit)


def _bypass(desk: _Desk) -> Iterator[Check]:
    page, shown = desk.page, desk.shown
    aim = page.promise.share if page.promise else None
    there = page.set_share
    near = aim is None or there is None or abs(there - aim) <= SHARE_OFF + 1e-9
    held = None if there is None else near or page.by_test
    allowed = desk.reader.say("fit.by-test") if page.by_test else ""
    if aim is not None and not page.by_test:
        ends = (max(100 * (aim - SHARE_OFF), 0.0), 100 * (aim + SHARE_OFF))
        allowed = shown.between(*ends, 0, "%")
    result = "" if there is None else shown.percent(there)
    yield desk.check(held, desk.reader.say("fit.check.bypass"), result, allowed)


def _blended(desk: _Desk) -> Iterator[Check]:
    for kind in kinds_tested("blended", desk.line):
        found = reading(kind, desk.page.tally("blended", kind), desk.page)
        result = "" if found is None else desk.shown.water_between(kind, found.low, found.high)
        limits = allowed_blend(kind, desk.page)
        held = None
        if found is not None and limits is not None:
            held = limits[0] <= found.middle <= limits[1]
        said = "" if limits is None else desk.shown.water_between(kind, *limits)
        yield desk.check(held, desk.reader.say(f"fit.kind.{kind}"), result, said)


def promised_of(kind: str, page: Progress) -> Spread | None:
    """What was promised of one kind."""
    taken = page.promise
    if taken is None:
        return None
    by_kind = {
        "hardness": taken.hardness_mmol_l,
        "alkalinity": taken.alkalinity_meq_l,
        "calcium": taken.calcium_mmol_l,
    }
    return by_kind[kind]


def allowed_blend(kind: str, page: Progress) -> tuple[float, float] | None:
    """The promise give or take a drop."""
    found, drop = promised_of(kind, page), drop_size(kind, page)
    return None if found is None else (max(found.p05 - drop, 0.0), found.p95 + drop)


def blend_off(page: Progress, line: LineSetup) -> int:
    """Which way the blended water is off: 1 too much (turn the bypass down), -1 too little, 0
    neither."""
    for kind in kinds_tested("blended", line):
        if not finished(page.tally("blended", kind)):
            continue
        found, limits = reading(kind, page.tally("blended", kind), page), allowed_blend(kind, page)
        if found is None or limits is None or limits[0] <= found.middle <= limits[1]:
            continue
        return 1 if found.middle > limits[1] else -1
    return 0


def suggested_share(page: Progress, line: LineSetup) -> float | None:
    """Where to turn the head so that the blend comes out as promised; None where the tests tell
    nothing of it.

    By mixing: observed = b raw + (1 - b) treated, with raw and treated as the promise has them.
    """
    taken = page.promise
    if taken is None or taken.share >= 1.0:
        return None
    shifts = []
    for kind in kinds_tested("blended", line):
        found, raw = reading(kind, page.tally("blended", kind), page), page.tally("raw", kind)
        there, aim = reading(kind, raw, page), promised_of(kind, page)
        if found is None or there is None or aim is None:
            continue
        behind = (aim.p50 - taken.share * there.middle) / (1.0 - taken.share)
        if there.middle - behind < 2.0 * drop_size(kind, page):
            continue
        shifts.append(taken.share - (found.middle - behind) / (there.middle - behind))
    if not shifts:
        return None
    base = taken.share if page.set_share is None else page.set_share
    return min(max(round(base + sum(shifts) / len(shifts), 2), 0.0), 0.9)


def _run(desk: _Desk) -> Iterator[Check]:
    page, shown = desk.page, desk.shown
    seen = None if page.ran is None else ec25_of(page.ran, page, "outlet")
    limits = ec_limits(page)
    held = None
    if seen is not None and limits is not None:
        held = limits[0] <= seen <= limits[1]
    yield desk.check(
        held, desk.reader.say("fit.check.outlet"),
        "" if seen is None else shown.conductivity(seen),
        "" if limits is None else shown.between(*limits, 0, "µS/cm"),
    )  # fmt: skip


def ec_limits(page: Progress) -> tuple[float, float] | None:
    """Where the model says outlet conductivity settles, give or take what probes leave open."""
    taken = page.promise
    if taken is None:
        return None
    found = taken.ec25_us_cm
    return found.p05 * (1.0 - EC_ROOM), found.p95 * (1.0 + EC_ROOM)


def _handover(desk: _Desk) -> Iterator[Check]:
    held = "handover" in desk.page.taken
    who = desk.page.taken["handover"].who if held else ""
    yield desk.check(True if held else None, desk.reader.say("fit.check.signed"), who, "")


_CHECKS: Final[dict[str, Callable[[_Desk], Iterator[Check]]]] = {
    "flush": _flush,
    "cartridge": _cartridge,
    "raw": _tests,
    "proposal": _proposal,
    "dry": _dry,
    "standard": _standard,
    "zero": _zero,
    "jugs": _jugs,
    "bypass": _bypass,
    "blended": _blended,
    "run": _run,
    "handover": _handover,
}
