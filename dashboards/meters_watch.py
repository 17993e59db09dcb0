"""What `meters watch` shows: the newest row of each meter, with quality, age and rate."""

from __future__ import annotations

import datetime as dt
import json
import math
import time
from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np

from analytics.samples import CHANNELS, Flag, Rows
from dashboards.phrases.reader import Reader
from dashboards.taste import Taste, usual_taste
from firmware_bridge.acquire import shape_of
from firmware_bridge.calibration.sight import Sight, open_sight
from firmware_bridge.config.wiring import Site

Say: TypeAlias = Callable[[str], object]

PATIENCE_S = 15.0
EVERY_S = 1.0
RATE_MS = 60_000
OLD_S = 120.0
DOUBTS = (
    (Flag.OUTLET_SUSPECT, "outlet-doubtful"),
    (Flag.INLET_SUSPECT, "inlet-doubtful"),
    (Flag.FLOW_SUSPECT, "flow-doubtful"),
    (Flag.CLOCK_UNSURE, "clock-not-set"),
    (Flag.COUNTER_RESET, "counter-anew"),
    (Flag.SIMULATED, "simulated"),
)
"""Doubts of a row, as codes: `watch.CODE` has the words."""


def watch_meters(site: Site, *, once: bool, as_json: bool, say: Say) -> None:
    """Show rows until interrupted, or each meter once."""
    reader = usual_taste(site.wiring.language).reader()
    sight = open_sight(site)
    try:
        if not as_json:
            key = "watch.here" if sight.direct else "watch.file"
            say(reader.say(key, site=site.setup.name))
            say(_head(reader))
        _show(sight, once, None if as_json else reader, say)
    except KeyboardInterrupt:
        return
    finally:
        sight.close()


def _head(reader: Reader) -> str:
    words = {
        name: reader.say(f"watch.head.{name}")
        for name in ("time", "meter", "outlet", "inlet", "pulses", "age", "rate", "quality")
    }
    return (
        f"{words['time']:8}  {words['meter']:12}  {words['outlet']:20}  {words['inlet']:20}  "
        f"{words['pulses']:>7}  {words['age']:>6}  {words['rate']:>8}  {words['quality']}"
    )


def _show(sight: Sight, once: bool, reader: Reader | None, say: Say) -> None:
    """Rows as they come: as text for a reader, else as JSON."""
    shown: dict[str, int] = {}
    faults: dict[str, str] = {}
    end = time.monotonic() + PATIENCE_S
    while True:
        rows = sight.meter_rows()
        for name, mine in rows.items():
            if len(mine) and shown.get(name) != int(mine.at_ms[-1]):
                shown[name] = int(mine.at_ms[-1])
                say(_as_json(name, mine) if reader is None else _as_text(name, mine, reader))
        for health in sight.health():
            shape = shape_of(health.last_fault)
            if shape and faults.get(health.meter_id) != shape:
                faults[health.meter_id] = shape
                say(_fault(health.meter_id, health.last_fault, reader is None))
        told = set(shown) | set(faults)
        if once and (told >= set(rows) or time.monotonic() > end):
            _silent(set(rows) - told, reader, say)
            return
        time.sleep(EVERY_S if not once else 0.1)


def _silent(names: set[str], reader: Reader | None, say: Say) -> None:
    words = (reader or Taste().reader()).say("watch.silent", seconds=round(PATIENCE_S))
    for name in sorted(names):
        say(_fault(name, words, reader is None))


def _fault(name: str, fault: str, as_json: bool) -> str:
    if as_json:
        return json.dumps({"meter": name, "fault": fault}, ensure_ascii=False)
    return f"{_clock(time.time()):8}  {name:12}  ! {fault}"


def facts_of(name: str, rows: Rows, now_ms: int) -> dict[str, Any]:
    """The newest row of a meter with its age, rate and quality."""
    recent = rows.pick(np.flatnonzero(rows.at_ms > rows.at_ms[-1] - RATE_MS))
    age_s = max(now_ms - int(rows.at_ms[-1]), 0) / 1000.0
    values = {channel: float(getattr(rows, channel)[-1]) for channel in CHANNELS}
    span_ms = int(recent.at_ms[-1]) - int(recent.at_ms[0])
    rate = (len(recent) - 1) * 60_000.0 / span_ms if span_ms > 0 else None
    pulses = int(rows.pulses[-1])
    flags = int(rows.flags[-1])
    doubts = [code for flag, code in DOUBTS if flags & int(flag)]
    if age_s > OLD_S:
        doubts.append("old")
    return {
        "meter": name,
        "at_ms": int(rows.at_ms[-1]),
        "age_s": round(age_s, 1),
        "rows_a_minute": None if rate is None else round(rate, 1),
        **{key: value if math.isfinite(value) else None for key, value in values.items()},
        "pulses": pulses if pulses >= 0 else None,
        "quality": doubts or ["good"],
    }


def _as_json(name: str, rows: Rows) -> str:
    return json.dumps(facts_of(name, rows, round(time.time() * 1000)), ensure_ascii=False)


def _as_text(name: str, rows: Rows, reader: Reader) -> str:
    facts = facts_of(name, rows, round(time.time() * 1000))
    pulses = "-" if facts["pulses"] is None else str(facts["pulses"])
    rate = "-" if facts["rows_a_minute"] is None else f"{facts['rows_a_minute']:.4g}"
    rate, outlet, inlet = map(reader.decimal, (rate, _side(facts, "outlet"), _side(facts, "inlet")))
    return (
        f"{_clock(facts['at_ms'] / 1000.0):8}  {name:12}  {outlet:20}  "
        f"{inlet:20}  {pulses:>7}  {facts['age_s']:>4.0f} s  {rate:>8}  "
        f"{', '.join(reader.say(f'watch.{code}') for code in facts['quality'])}"
    )


def _side(facts: dict[str, Any], side: str) -> str:
    ec, temp = facts[f"{side}_us_cm"], facts[f"{side}_temp_c"]
    parts = ["" if ec is None else f"{ec:.1f} µS/cm", "" if temp is None else f"{temp:.1f} °C"]
    return " ".join(part for part in parts if part) or "-"


def _clock(seconds: float) -> str:
    return dt.datetime.fromtimestamp(seconds, dt.UTC).astimezone().strftime("%H:%M:%S")
