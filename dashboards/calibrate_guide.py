"""The guide of `meters calibrate`: what to do, what was read, what it means, kept if agreed."""

from __future__ import annotations

import math
import textwrap
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Final, TypeAlias

import msgspec
import numpy as np

from analytics import calibration as fit
from analytics.calibration import Figure, Jug, ProbePoint
from analytics.chemistry.temperature import f25_where_defined
from analytics.errors import LastLitreError, ModelError
from analytics.samples import AnyEvent, CrossZero, KFactorSet, ProbeCalibrated, Rows
from analytics.setup import LineSetup
from dashboards.phrases.numbers import decimal_text, signed_text
from dashboards.phrases.reader import Reader
from dashboards.taste import usual_taste
from firmware_bridge.calibration.done import Notebook
from firmware_bridge.calibration.points import (
    UNKNOWN_DRY,
    dry_point,
    jug_of,
    standard_point,
    without_worst,
)
from firmware_bridge.calibration.sight import Sight, open_sight
from firmware_bridge.calibration.steady import Side, side_of
from firmware_bridge.clock import SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.logbook.hatch import Asked
from firmware_bridge.logbook.put import put

Say: TypeAlias = Callable[[str], object]
Ask: TypeAlias = Callable[..., Any]

PATIENCE_S: Final = 180.0
WIDTH: Final = 80
INDENT: Final = "  "
WINDOW_MS: Final = 30_000
LATEST_S: Final = 13.0
"""A node tells of the last pulses within ten seconds, and a running site stores each second."""
SPEAKS_MS: Final = 90_000
"""A node at rest says something each minute."""
AGREE: Final = 0.03
STEPS: Final = ("dry", "standard", "cross-zero", "jugs")


class Guide:
    """Walks an installer through the steps. `ask(text, default=)` and `confirm(text, default=)`
    wait for the person; `say` prints."""

    def __init__(
        self,
        site: Site,
        line: LineSetup,
        *,
        ask: Ask,
        confirm: Ask,
        say: Say,
        who: str = "",
        sight: Sight | None = None,
        reader: Reader | None = None,
    ) -> None:
        self._site, self._line = site, line
        self._ask, self._confirm, self._say = ask, confirm, say
        self._who = who
        self._reader = reader or usual_taste(site.wiring.language).reader()
        self._store = Path(site.wiring.store_path)
        self._notebook = Notebook(self._store)
        self._sight = sight or open_sight(site)
        self._clock = SystemClock()
        self._done = self._notebook.page(line.line_id, self._clock.now_ms())

    def __enter__(self) -> Guide:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, _: TracebackType | None
    ) -> None:
        self._sight.close()

    def run(self, steps: tuple[str, ...], *, anew: bool = False) -> None:
        """The steps in their order; those done already are passed over unless wanted again."""
        if anew:
            self._done = self._notebook.forget(self._line.line_id, self._clock.now_ms())
        words = self._reader.say
        site, line = self._site.setup.name, self._line.line_id
        self._say(words("calibrate.begin", line=line, site=site))
        self._say(words("calibrate.direct" if self._sight.direct else "calibrate.beside"))
        self._say(words("calibrate.leave"))
        for step in STEPS:
            if step in steps and not self._passed_over(step):
                self._say("")
                self._say(f"== {words(f'calibrate.{step}')}")
                getattr(self, f"_{step.replace('-', '_')}")()
        self._say("")
        self._say(words("calibrate.end"))

    # --- steps ------------------------------------------------------------------------------

    def _dry(self) -> None:
        for probe in self._probes():
            self._pause(f"calibrate.dry.do.{probe}")
            side = self._steady(probe)
            if side is None:
                continue
            found, sd = self._n(side.us_cm, 2), self._n(side.us_cm_sd, 2)
            self._tell("calibrate.dry.reads", found=found, sd=sd)
            if side.us_cm > fit.DRY_MOST_US_CM:
                self._tell("calibrate.dry.not")
                continue
            self._keep(dry=self._done.dry | {probe: dry_point(side)})

    def _standard(self) -> None:
        self._tell("calibrate.standard.care")
        label = self._number("calibrate.standard.label", 1413.0, 50.0, 2e4)
        for probe in self._probes():
            self._pause(f"calibrate.standard.do.{probe}")
            side = self._steady(probe)
            if side is None:
                continue
            usual = side.temp_c if math.isfinite(side.temp_c) else 20.0
            asked, found = "calibrate.standard.temp", self._n(usual, 1)
            temp = self._number(asked, round(usual, 1), 0.0, 50.0, found=found)
            point = standard_point(side, label, temp)
            self._keep(standard=self._done.standard | {probe: point})
            self._fit_cell(probe, point)

    def _cross_zero(self) -> None:
        probes = self._probes()
        self._pause("calibrate.zero.both" if len(probes) > 1 else "calibrate.zero.one")
        sides = {probe: self._steady(probe) for probe in probes}
        outlet, inlet = sides["outlet"], sides.get("inlet")
        if outlet is None or ("inlet" in sides and inlet is None):
            return
        event = CrossZero(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note=self._reader.say("calibrate.zero.note"),
            outlet_us_cm=outlet.us_cm,
            outlet_temp_c=outlet.temp_c,
            inlet_us_cm=None if inlet is None else inlet.us_cm,
            inlet_temp_c=None if inlet is None else inlet.temp_c,
        )
        if not math.isfinite(outlet.temp_c) or (inlet and not math.isfinite(inlet.temp_c)):
            self._tell("calibrate.zero.no-temp")
            return
        self._say_zero(outlet, inlet)
        self._offer(event, "cross-zero")

    def _jugs(self) -> None:
        if not self._line.flow_meter:
            self._tell("calibrate.jugs.no-meter")
            return
        full = self._flow("jugs_full")
        brew = self._flow("jugs_brew")
        if not full:
            return
        found = fit.k_factor(full)
        self._tell("calibrate.jugs.full", k=self._k(found), flow=self._n(_flow(full), 2))
        if brew:
            slow = fit.k_factor(brew)
            self._tell("calibrate.jugs.brew", k=self._k(slow), flow=self._n(_flow(brew), 2))
            if _flow(brew) > 0.5 * _flow(full):
                self._tell("calibrate.jugs.not-thin")
            self._say_low_flow(full + brew)
            found = fit.k_in_use(found, slow)
            self._tell("calibrate.jugs.both", k=self._k(found))
        else:
            found = Figure(value=found.value, sd=math.hypot(found.sd, AGREE * found.value))
            self._tell("calibrate.jugs.full-only", k=self._k(found))
        event = KFactorSet(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note=self._reader.say("calibrate.jugs.note", full=len(full), brew=len(brew)),
            pulses_per_l=found.value,
            relative_sd=max(found.relative_sd, 0.001),
        )
        self._offer(event, "jugs")

    # --- what goes into them ----------------------------------------------------------------

    def _fit_cell(self, probe: str, point: ProbePoint) -> None:
        dry = self._done.dry.get(probe) or UNKNOWN_DRY
        try:
            found = fit.cell_fit((dry, point))
        except ModelError as fault:
            self._say(f"  {fault}. {fault.hint}")
            return
        gain = found.gain
        true, read = self._n(point.true_us_cm, 1), self._n(point.read_us_cm, 1)
        self._tell("calibrate.standard.true", true=true, read=read)
        way = "much" if gain.value < 1.0 else "little"
        off = self._n(100.0 * abs(1.0 / gain.value - 1.0), 1)
        sd = self._n(100.0 * gain.relative_sd, 1)
        self._tell(f"calibrate.standard.{way}", off=off, sd=sd)
        self._tell("calibrate.standard.gain", gain=self._n(gain.value, 4))
        low, high = fit.CELL_USUAL
        if not low <= gain.value <= high:
            self._tell("calibrate.standard.far")
        event = ProbeCalibrated(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note=self._reader.say("calibrate.standard.note"),
            probe=probe,
            gain=gain.value,
            relative_sd=max(gain.relative_sd, 0.0005),
            dry_us_cm=max(found.dry_us_cm.value, 0.0),
        )
        self._offer(event, f"standard {probe}")

    def _say_zero(self, outlet: Side, inlet: Side | None) -> None:
        out25 = outlet.us_cm * float(f25_where_defined(outlet.temp_c))
        self._tell("calibrate.zero.outlet", found=self._n(out25, 1))
        if inlet is None:
            return
        in25 = inlet.us_cm * float(f25_where_defined(inlet.temp_c))
        self._tell("calibrate.zero.inlet", found=self._n(in25, 1))
        apart = out25 / in25 - 1.0
        signed = signed_text(100.0 * apart, 0.01, self._reader.language.numbers)
        self._tell("calibrate.zero.apart", apart=signed)
        if abs(apart) > 0.15:
            self._tell("calibrate.zero.far")

    def _flow(self, kind: str) -> tuple[Jug, ...]:
        """At least three jugs of one flow; none where the person passes over."""
        jugs: tuple[Jug, ...] = getattr(self._done, kind)
        ready = f"calibrate.jugs.ready-{kind.removeprefix('jugs_')}"
        left_out = 0
        while len(jugs) < fit.JUGS_LEAST or fit.jugs_apart(jugs) > fit.JUGS_APART:
            if len(jugs) >= fit.JUGS_LEAST:
                apart = self._n(100.0 * fit.jugs_apart(jugs), 1)
                self._tell("calibrate.jugs.apart", apart=apart)
                left_out += 1
                jugs = self._without_worst(jugs) if left_out <= fit.JUGS_LEAST else ()
                if not jugs:
                    self._tell("calibrate.jugs.never")
                    left_out = 0
            elif not self._agrees(ready, n=len(jugs) + 1):
                return ()
            jug = self._jug()
            if jug is not None:
                jugs = (*jugs, jug)
                self._keep(**{kind: jugs})
        return jugs

    def _jug(self) -> Jug | None:
        if not self._counter_speaks():
            return None
        begun_ms = self._clock.now_ms()
        self._pause("calibrate.jugs.fill")
        rows = self._rows_of_jug(begun_ms)
        if not (rows.pulses > 0).any():
            self._tell("calibrate.jugs.no-pulse")
            return None
        litres = self._number("calibrate.jugs.litres", 1.0, 0.05, 200.0)
        jug = jug_of(rows, begun_ms, litres)
        assert jug is not None  # it has pulses
        k, flow = self._n(jug.pulses_per_l, 1), self._n(jug.flow_l_min, 2)
        self._tell("calibrate.jugs.one", n=jug.pulses, k=k, flow=flow)
        return jug

    def _counter_speaks(self) -> bool:
        """Whether the counter is read: what runs before its first row would not be counted."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            rows = self._sight.rows(self._line.line_id, self._clock.now_ms() - SPEAKS_MS)
            if (rows.pulses >= 0).any():
                return True
            self._wait(0.2)
        self._tell("calibrate.jugs.silent", fault=self._faults())
        if not self._agrees("calibrate.try-again"):
            raise LastLitreError("The counter says nothing.", "Look: lastlitre meters watch")
        return False

    def _rows_of_jug(self, begun_ms: int) -> Rows:
        """Rows since then, once one has come that is younger than the shut tap."""
        shut_ms, end = self._clock.now_ms(), time.monotonic() + LATEST_S
        while True:
            self._wait(0.5)
            rows = self._sight.rows(self._line.line_id, begun_ms)
            over = len(rows) and int(rows.at_ms[-1]) > shut_ms + 1000
            if over or time.monotonic() > end:
                return rows

    def _without_worst(self, jugs: tuple[Jug, ...]) -> tuple[Jug, ...]:
        kept = without_worst(jugs)
        out = next(jug for jug in jugs if jug not in kept)
        self._tell("calibrate.jugs.left-out", k=self._n(out.pulses_per_l, 1))
        return kept

    def _say_low_flow(self, jugs: tuple[Jug, ...]) -> None:
        try:
            curve = fit.low_flow(jugs)
        except ModelError as fault:
            self._say(f"  {fault}. {fault.hint}")
            return
        slip = curve.slip_l_min
        if slip.value > 2.0 * slip.sd:
            flow, sd = self._n(slip.value, 3), self._n(slip.sd, 3)
            self._tell("calibrate.jugs.slip", flow=flow, sd=sd)

    # --- the person, the readings, the keeping ----------------------------------------------

    def _probes(self) -> tuple[str, ...]:
        wanted = (("outlet", self._line.outlet_probe), ("inlet", self._line.inlet_probe))
        found = tuple(name for name, there in wanted if there)
        if not found:
            raise LastLitreError("This line has no probe.", "Do the jugs alone: --step jugs")
        return found

    def _passed_over(self, step: str) -> bool:
        probes = [p for p in ("outlet", "inlet") if getattr(self._line, f"{p}_probe")]
        done = {
            "dry": all(p in self._done.dry for p in probes),
            "standard": all(f"standard {p}" in self._done.stored for p in probes),
            "cross-zero": "cross-zero" in self._done.stored,
            "jugs": "jugs" in self._done.stored,
        }[step]
        if not done:
            return False
        title = self._reader.say(f"calibrate.{step}")
        words = self._reader.say("calibrate.done-already", title=title)
        again = self._confirm(words, default=False)
        if again and step == "jugs":
            self._keep(jugs_full=(), jugs_brew=())
        return not again

    def _steady(self, probe: str) -> Side | None:
        """What a probe says once it stands; None where it says nothing."""
        begun_ms = self._clock.now_ms()
        self._tell("calibrate.waiting")
        end = time.monotonic() + PATIENCE_S
        side: Side | None = None
        while time.monotonic() < end:
            self._wait(0.5)
            since = max(begun_ms, self._clock.now_ms() - WINDOW_MS)
            side = side_of(self._sight.rows(self._line.line_id, since), probe)
            if side is not None and side.stands:
                return side
        if side is None:
            self._tell(f"calibrate.silent.{probe}", fault=self._faults())
            return None
        found = self._n(side.us_cm, 1)
        self._tell("calibrate.moves", seconds=round(PATIENCE_S), found=found)
        return side if self._agrees("calibrate.take", default=False) else None

    def _faults(self) -> str:
        said = [health.last_fault for health in self._sight.health() if health.last_fault]
        return " ".join(said) or self._reader.say("calibrate.try-watch")

    def _tell(self, key: str, **values: str | int) -> None:
        """A sentence, folded and set in from the edge."""
        text = self._reader.say(key, **values)
        self._say(textwrap.indent(textwrap.fill(text, WIDTH, break_on_hyphens=False), INDENT))

    def _n(self, value: float, digits: int) -> str:
        return decimal_text(value, 10.0**-digits, self._reader.language.numbers)

    def _k(self, figure: Figure) -> str:
        k, sd = self._n(figure.value, 1), self._n(100.0 * figure.relative_sd, 1)
        return self._reader.say("calibrate.jugs.k", k=k, sd=sd)

    def _pause(self, key: str) -> None:
        text = self._reader.say("calibrate.enter", text=self._reader.say(key))
        self._ask(text, default="", show_default=False)

    def _agrees(self, key: str, *, default: bool = True, **values: str | int) -> bool:
        return bool(self._confirm(INDENT + self._reader.say(key, **values), default=default))

    def _number(self, key: str, default: float, low: float, high: float, **values: str) -> float:
        words = self._reader.say
        while True:
            said = str(self._ask(words(key, **values), default=f"{default:g}"))
            try:
                value = float(said.replace(",", "."))
            except ValueError:
                value = math.nan
            if low <= value <= high:
                return value
            self._tell("calibrate.no-number", said=repr(said), low=f"{low:g}", high=f"{high:g}")

    def _wait(self, seconds: float) -> None:
        time.sleep(seconds)

    def _keep(self, **more: Any) -> None:
        self._done = msgspec.structs.replace(self._done, **more)
        self._notebook.keep(self._done)

    def _offer(self, event: AnyEvent, name: str) -> None:
        if not self._agrees("calibrate.keep"):
            self._tell("calibrate.not-kept")
            return
        answer = put(self._site, Asked(who=self._who, act=event))
        if answer.trouble or answer.faults:
            said = answer.trouble or ", ".join(f"{field}: {code}" for field, code in answer.faults)
            raise LastLitreError(f"Not written down: {said}.", answer.hint)
        self._keep(stored=tuple(sorted({*self._done.stored, name})))
        self._tell("calibrate.kept", n=answer.number)


def _flow(jugs: tuple[Jug, ...]) -> float:
    return float(np.mean([jug.flow_l_min for jug in jugs]))
