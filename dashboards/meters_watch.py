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
from firmware_bridge.acquire import shape_of
from firmware_bridge.calibration.sight import Sight, open_sight
from firmware_bridge.config.wiring import Site

Say: TypeAlias = Callable[[str], object]

PATIENCE_S = 15.0
EVERY_S = 1.0
RATE_MS = 60_000
OLD_S = 120.0
DOUBTS = (
    (Flag.OUTLET_SUSPECT, "outlet doubtful"),
    (Flag.INLET_SUSPECT, "inlet doubtful"),
    (Flag.FLOW_SUSPECT, "flow doubtful"),
    (Flag.CLOCK_UNSURE, "clock not set"),
    (Flag.COUNTER_RESET, "counter began anew"),
    (Flag.SIMULATED, "not a real meter"),
)
HEAD = (
    f"{'time':8}  {'meter':12}  {'outlet':20}  {'inlet':20}  {'pulses':>7}  {'age':>6}  "
    f"{'rows/min':>8}  quality"
)


def watch_meters(site: Site, *, once: bool, as_json: bool, say: Say) -> None:
    """Show rows until interrupted, or each meter once."""
    sight = open_sight(site)
    try:
        if not as_json:
            how = "meters read here" if sight.direct else "the site is running: read from its file"
            say(f"{site.setup.name}, {how}. Conductivity as read, not referred to 25 °C.")
            say(HEAD)
        _show(sight, once, as_json, say)
    except KeyboardInterrupt:
        return
    finally:
        sight.close()


def _show(sight: Sight, once: bool, as_json: bool, say: Say) -> None:
    shown: dict[str, int] = {}
    faults: dict[str, str] = {}
    end = time.monotonic() + PATIENCE_S
    while True:
        rows = sight.meter_rows()
        for name, mine in rows.items():
            if len(mine) and shown.get(name) != int(mine.at_ms[-1]):
                shown[name] = int(mine.at_ms[-1])
                say(_as_json(name, mine) if as_json else _as_text(name, mine))
        for health in sight.health():
            shape = shape_of(health.last_fault)
            if shape and faults.get(health.meter_id) != shape:
                faults[health.meter_id] = shape
                say(_fault(health.meter_id, health.last_fault, as_json))
        told = set(shown) | set(faults)
        if once and (told >= set(rows) or time.monotonic() > end):
            _silent(set(rows) - told, as_json, say)
            return
        time.sleep(EVERY_S if not once else 0.1)


def _silent(names: set[str], as_json: bool, say: Say) -> None:
    for name in sorted(names):
        fault = f"said nothing within {PATIENCE_S:g} s; try: lastlitre meters scan"
        say(_fault(name, fault, as_json))


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
    doubts = [words for flag, words in DOUBTS if flags & int(flag)]
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


def _as_text(name: str, rows: Rows) -> str:
    facts = facts_of(name, rows, round(time.time() * 1000))
    pulses = "-" if facts["pulses"] is None else str(facts["pulses"])
    rate = "-" if facts["rows_a_minute"] is None else f"{facts['rows_a_minute']:.4g}"
    return (
        f"{_clock(facts['at_ms'] / 1000.0):8}  {name:12}  {_side(facts, 'outlet'):20}  "
        f"{_side(facts, 'inlet'):20}  {pulses:>7}  {facts['age_s']:>4.0f} s  {rate:>8}  "
        f"{', '.join(facts['quality'])}"
    )


def _side(facts: dict[str, Any], side: str) -> str:
    ec, temp = facts[f"{side}_us_cm"], facts[f"{side}_temp_c"]
    parts = ["" if ec is None else f"{ec:.1f} µS/cm", "" if temp is None else f"{temp:.1f} °C"]
    return " ".join(part for part in parts if part) or "-"


def _clock(seconds: float) -> str:
    return dt.datetime.fromtimestamp(seconds, dt.UTC).astimezone().strftime("%H:%M:%S")
