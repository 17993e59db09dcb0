"""The guide of `meters calibrate`: what to do, what was read, what it means, kept if agreed."""

from __future__ import annotations

import math
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
WINDOW_MS: Final = 30_000
LATEST_S: Final = 13.0
"""A node tells of the last pulses within ten seconds, and a running site stores each second."""
SPEAKS_MS: Final = 90_000
"""A node at rest says something each minute."""
AGREE: Final = 0.03
TITLES: Final = {
    "dry": "Dry probe",
    "standard": "KCl standard",
    "cross-zero": "Both probes in one water",
    "jugs": "Measured jugs",
}


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
    ) -> None:
        self._site, self._line = site, line
        self._ask, self._confirm, self._say = ask, confirm, say
        self._who = who
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
        self._say(f"Calibrating line {self._line.line_id} of {self._site.setup.name}.")
        how = (
            "The meters are read by this command; do not start the site meanwhile."
            if self._sight.direct
            else "The site is running: readings come through its file, nothing has to be stopped."
        )
        self._say(how)
        self._say("Leave at any time with Ctrl-C; what is done is kept for a day.")
        for step in ("dry", "standard", "cross-zero", "jugs"):
            if step in steps and not self._passed_over(step):
                self._say("")
                self._say(f"== {TITLES[step]}")
                getattr(self, f"_{step.replace('-', '_')}")()
        self._say("")
        self._say(
            "Done. See what the meters say now: lastlitre meters watch, then lastlitre logbook"
        )

    # --- steps ------------------------------------------------------------------------------

    def _dry(self) -> None:
        for probe in self._probes():
            self._pause(f"Take the {probe} probe out of the water and shake it dry.")
            side = self._steady(probe)
            if side is None:
                continue
            self._say(f"  reads {side.us_cm:.2f} µS/cm (± {side.us_cm_sd:.2f})")
            if side.us_cm > fit.DRY_MOST_US_CM:
                self._say("  That is not dry: a drop between the electrodes, or a leak in the")
                self._say("  cable. Dry it and do this step again: --step dry")
                continue
            self._keep(dry=self._done.dry | {probe: dry_point(side)})

    def _standard(self) -> None:
        self._say("Standard does not belong into drinking water: rinse the probe well before it")
        self._say("goes back, and flush the line before anybody drinks from it.")
        label = self._number("What is printed on the standard, µS/cm at 25 °C", 1413.0, 50.0, 2e4)
        for probe in self._probes():
            self._pause(f"Rinse the {probe} probe with standard, then put it in fresh standard.")
            side = self._steady(probe)
            if side is None:
                continue
            usual = side.temp_c if math.isfinite(side.temp_c) else 20.0
            asked = f"Temperature of the standard by a thermometer, °C (the probe: {usual:.1f})"
            temp = self._number(asked, round(usual, 1), 0.0, 50.0)
            point = standard_point(side, label, temp)
            self._keep(standard=self._done.standard | {probe: point})
            self._fit_cell(probe, point)

    def _cross_zero(self) -> None:
        probes = self._probes()
        self._pause(
            "Put both probes into one jug of raw water (or open the bypass fully and let it run)."
            if len(probes) > 1
            else "Let raw water reach the outlet probe (open the bypass fully, or a jug of it)."
        )
        sides = {probe: self._steady(probe) for probe in probes}
        outlet, inlet = sides["outlet"], sides.get("inlet")
        if outlet is None or ("inlet" in sides and inlet is None):
            return
        event = CrossZero(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note="meters calibrate",
            outlet_us_cm=outlet.us_cm,
            outlet_temp_c=outlet.temp_c,
            inlet_us_cm=None if inlet is None else inlet.us_cm,
            inlet_temp_c=None if inlet is None else inlet.temp_c,
        )
        if not math.isfinite(outlet.temp_c) or (inlet and not math.isfinite(inlet.temp_c)):
            self._say("  A probe gives no temperature: without it this step says nothing.")
            return
        self._say_zero(outlet, inlet)
        self._offer(event, "cross-zero")

    def _jugs(self) -> None:
        if not self._line.flow_meter:
            self._say("  This line has no flow meter.")
            return
        full = self._flow("jugs_full", "at full flow: open the tap wide")
        brew = self._flow("jugs_brew", "at brew-like flow: a thin stream, as a brewing group draws")
        if not full:
            return
        found = fit.k_factor(full)
        self._say(f"  full flow: {_k(found)} at {_flow(full)} L/min")
        if brew:
            slow = fit.k_factor(brew)
            self._say(f"  brew-like flow: {_k(slow)} at {_flow(brew)} L/min")
            if float(_flow(brew)) > 0.5 * float(_flow(full)):
                self._say("  That was no thin stream: what happens at a trickle is still unknown.")
            self._say_low_flow(full + brew)
            found = fit.k_in_use(found, slow)
            self._say(f"  for both together: {_k(found)}")
        else:
            found = Figure(value=found.value, sd=math.hypot(found.sd, AGREE * found.value))
            self._say("  Nothing is known of a thin stream, where small turbines under-read:")
            self._say(f"  the spread is widened: {_k(found)}")
        event = KFactorSet(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note=f"meters calibrate: {len(full)} jugs at full, {len(brew)} at brew-like flow",
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
        self._say(f"  true {point.true_us_cm:.1f} µS/cm, read {point.read_us_cm:.1f}")
        way = "much" if gain.value < 1.0 else "little"
        off = 100.0 * abs(1.0 / gain.value - 1.0)
        self._say(f"  it reads {off:.1f} % too {way} (± {100.0 * gain.relative_sd:.1f} %)")
        self._say(f"  gain {gain.value:.4f}: its cell constant is so many times the stated one")
        low, high = fit.CELL_USUAL
        if not low <= gain.value <= high:
            self._say("  That is far from 1: a wrong standard, a wrong cell constant in the site")
            self._say("  file, a bubble or dirt in the cell. Clean it and do this step again.")
        event = ProbeCalibrated(
            at_ms=self._clock.now_ms(),
            known_at_ms=self._clock.now_ms(),
            line_id=self._line.line_id,
            note="meters calibrate: dry and one KCl standard",
            probe=probe,
            gain=gain.value,
            relative_sd=max(gain.relative_sd, 0.0005),
            dry_us_cm=max(found.dry_us_cm.value, 0.0),
        )
        self._offer(event, f"standard {probe}")

    def _say_zero(self, outlet: Side, inlet: Side | None) -> None:
        out25 = outlet.us_cm * float(f25_where_defined(outlet.temp_c))
        self._say(f"  outlet {out25:.1f} µS/cm at 25 °C")
        if inlet is None:
            return
        in25 = inlet.us_cm * float(f25_where_defined(inlet.temp_c))
        self._say(f"  inlet  {in25:.1f} µS/cm at 25 °C")
        apart = out25 / in25 - 1.0
        self._say(f"  the outlet probe reads {100.0 * apart:+.2f} % against the inlet probe")
        if abs(apart) > 0.15:
            self._say("  That is much: are both in the same water, without bubbles?")

    def _flow(self, kind: str, how: str) -> tuple[Jug, ...]:
        """At least three jugs of one flow; none where the person passes over."""
        jugs: tuple[Jug, ...] = getattr(self._done, kind)
        left_out = 0
        while len(jugs) < fit.JUGS_LEAST or fit.jugs_apart(jugs) > fit.JUGS_APART:
            if len(jugs) >= fit.JUGS_LEAST:
                apart = 100.0 * fit.jugs_apart(jugs)
                self._say(f"  These jugs are {apart:.1f} % apart: one of them is wrong.")
                left_out += 1
                jugs = self._without_worst(jugs) if left_out <= fit.JUGS_LEAST else ()
                if not jugs:
                    self._say("  They never agree: all are drawn anew. Is the turbine clogged?")
                    left_out = 0
            elif not self._confirm(f"  Jug {len(jugs) + 1} {how}. Ready", default=True):
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
        self._pause("  Fill a jug now; press Enter when the tap is shut.")
        rows = self._rows_of_jug(begun_ms)
        if not (rows.pulses > 0).any():
            self._say("  No pulse came: is the flow meter connected, does the water pass it?")
            return None
        litres = self._number("  How many litres are in it", 1.0, 0.05, 200.0)
        jug = jug_of(rows, begun_ms, litres)
        assert jug is not None  # it has pulses
        k, flow = jug.pulses_per_l, jug.flow_l_min
        self._say(f"  {jug.pulses} pulses: {k:.1f} pulses/L, {flow:.2f} L/min")
        return jug

    def _counter_speaks(self) -> bool:
        """Whether the counter is read: what runs before its first row would not be counted."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            rows = self._sight.rows(self._line.line_id, self._clock.now_ms() - SPEAKS_MS)
            if (rows.pulses >= 0).any():
                return True
            self._wait(0.2)
        self._say(f"  The counter says nothing. {self._faults()}")
        if not self._confirm("  Try again", default=True):
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
        self._say(f"  {out.pulses_per_l:.1f} pulses/L is left out; draw one more.")
        return kept

    def _say_low_flow(self, jugs: tuple[Jug, ...]) -> None:
        try:
            curve = fit.low_flow(jugs)
        except ModelError as fault:
            self._say(f"  {fault}. {fault.hint}")
            return
        slip = curve.slip_l_min
        if slip.value > 2.0 * slip.sd:
            self._say(f"  below {slip.value:.3f} L/min (± {slip.sd:.3f}) the turbine stands still")

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
        again = self._confirm(f"{TITLES[step]}: done already. Do it again", default=False)
        if again and step == "jugs":
            self._keep(jugs_full=(), jugs_brew=())
        return not again

    def _steady(self, probe: str) -> Side | None:
        """What a probe says once it stands; None where it says nothing."""
        begun_ms = self._clock.now_ms()
        self._say("  waiting until the reading stands ...")
        end = time.monotonic() + PATIENCE_S
        side: Side | None = None
        while time.monotonic() < end:
            self._wait(0.5)
            since = max(begun_ms, self._clock.now_ms() - WINDOW_MS)
            side = side_of(self._sight.rows(self._line.line_id, since), probe)
            if side is not None and side.stands:
                return side
        if side is None:
            self._say(f"  The {probe} probe says nothing. {self._faults()}")
            return None
        self._say(f"  It still moves after {PATIENCE_S:g} s ({side.us_cm:.1f} µS/cm).")
        return side if self._confirm("  Take it as it is", default=False) else None

    def _faults(self) -> str:
        said = [health.last_fault for health in self._sight.health() if health.last_fault]
        return " ".join(said) or "Try: lastlitre meters watch SITE.toml"

    def _pause(self, text: str) -> None:
        self._ask(f"{text} [Enter]", default="", show_default=False)

    def _number(self, text: str, default: float, low: float, high: float) -> float:
        while True:
            said = str(self._ask(text, default=f"{default:g}"))
            try:
                value = float(said.replace(",", "."))
            except ValueError:
                value = math.nan
            if low <= value <= high:
                return value
            self._say(f"  {said!r}: a number from {low:g} to {high:g}, please.")

    def _wait(self, seconds: float) -> None:
        time.sleep(seconds)

    def _keep(self, **more: Any) -> None:
        self._done = msgspec.structs.replace(self._done, **more)
        self._notebook.keep(self._done)

    def _offer(self, event: AnyEvent, name: str) -> None:
        if not self._confirm("  Keep this", default=True):
            self._say("  Not kept.")
            return
        answer = put(self._site, Asked(who=self._who, act=event))
        if answer.trouble or answer.faults:
            said = answer.trouble or ", ".join(f"{field}: {code}" for field, code in answer.faults)
            raise LastLitreError(f"Not written down: {said}.", answer.hint)
        self._keep(stored=tuple(sorted({*self._done.stored, name})))
        self._say(f"  Kept: entry {answer.number} of the logbook.")


def _k(figure: Figure) -> str:
    return f"{figure.value:.1f} pulses/L ± {100.0 * figure.relative_sd:.1f} %"


def _flow(jugs: tuple[Jug, ...]) -> str:
    return f"{float(np.mean([jug.flow_l_min for jug in jugs])):.2f}"
