"""The dated things of a life: drop-outs, outages, leaks, faults; and how truth names them."""

from __future__ import annotations

from datetime import datetime, timedelta

import msgspec
import numpy as np

from .logger import PulseFault
from .plan import Plan
from .probes import Fouling, Gap, Stuck
from .supply import Switch

DAY_S = 86400.0


class Leak(msgspec.Struct, frozen=True, kw_only=True):
    """A steady trickle."""

    start_s: float
    end_s: float
    litres_an_hour: float


class Happenings(msgspec.Struct, frozen=True, kw_only=True):
    """Faults by place, in seconds since the installation."""

    switch: Switch | None = None
    leak: Leak | None = None
    bypass_at_s: float | None = None
    pulse_faults: tuple[PulseFault, ...] = ()
    outlet: tuple[msgspec.Struct, ...] = ()
    inlet: tuple[msgspec.Struct, ...] = ()
    outages: tuple[tuple[float, float], ...] = ()


def stamp(install: datetime, seconds: float) -> str:
    """UTC time of a moment as the files write it."""
    return (install + timedelta(seconds=round(seconds))).strftime("%Y-%m-%dT%H:%M:%SZ")


def leading(plan: Plan, when_s: float, rng: np.random.Generator) -> Happenings:
    """What changes the water itself, before the column is run."""
    if plan.step_water is not None:
        ramp = float(rng.uniform(0.5, 6)) * 3600
        return Happenings(switch=Switch(when_s, ramp, plan.step_water))
    if plan.scenario == "leak":
        hourly = float(rng.uniform(0.5, 2.5))
        start = np.floor(when_s / DAY_S) * DAY_S + float(rng.integers(0, 24)) * 3600
        return Happenings(
            leak=Leak(
                start_s=start,
                end_s=start + float(rng.uniform(4, 14)) * DAY_S,
                litres_an_hour=hourly,
            )
        )
    if plan.scenario == "bypass_knocked":
        return Happenings(bypass_at_s=when_s)
    return Happenings()


def recorded(
    plan: Plan, base: Happenings, when_s: float, end_s: float, rng: np.random.Generator
) -> Happenings:
    """The faults of probes, meter and logger within a record of `end_s` seconds."""
    outlet = [*_gaps(end_s, rng), *_probe_fault(plan, "outlet", when_s, end_s, rng)]
    inlet = [*_gaps(end_s, rng)] if plan.pair else []
    return msgspec.structs.replace(
        base,
        outlet=tuple(outlet),
        inlet=tuple(inlet),
        outages=tuple(_outages(end_s, rng)),
        pulse_faults=tuple(_meter_fault(plan, when_s, end_s, rng)),
    )


def _gaps(end_s: float, rng: np.random.Generator) -> list[Gap]:
    made = []
    for _ in range(int(rng.poisson(end_s / DAY_S / 45))):
        start = float(rng.uniform(1.5 * DAY_S, max(end_s - DAY_S, 2 * DAY_S)))
        near = float(rng.uniform(0.5, 4)) if rng.random() < 0.2 else None
        made.append(
            Gap(
                start_s=start,
                end_s=start + float(rng.uniform(1, 9)) * 3600,
                temperature_too=near is None and rng.random() < 0.55,
                value=near,
            )
        )
    return made


def _outages(end_s: float, rng: np.random.Generator) -> list[tuple[float, float]]:
    made = []
    for _ in range(int(rng.poisson(end_s / DAY_S / 90))):
        start = float(rng.uniform(2 * DAY_S, max(end_s - 2 * DAY_S, 3 * DAY_S)))
        made.append((start, start + float(rng.uniform(6, 22)) * 3600))
    return made


def _probe_fault(
    plan: Plan, where: str, when_s: float, end_s: float, rng: np.random.Generator
) -> list[msgspec.Struct]:
    if plan.scenario == "fouled_probe":
        return [
            Fouling(
                onset_s=min(when_s, end_s - 8 * DAY_S),
                depth=float(rng.uniform(0.2, 0.4)),
                time_constant_s=float(rng.uniform(8, 22)) * DAY_S,
            )
        ]
    if plan.scenario == "probe_stuck":
        return [Stuck(start_s=when_s, end_s=when_s + float(rng.uniform(4, 9)) * DAY_S)]
    return []


def _meter_fault(
    plan: Plan, when_s: float, end_s: float, rng: np.random.Generator
) -> list[PulseFault]:
    share = {
        "meter_stuck": 0.0,
        "pulses_lost": float(rng.uniform(0.4, 0.75)),
        "pulses_doubled": 2.0,
    }
    if plan.scenario not in share:
        return []
    days = float(rng.uniform(4, 9) if plan.scenario == "meter_stuck" else rng.uniform(8, 30))
    return [PulseFault(when_s, min(when_s + days * DAY_S, end_s), share[plan.scenario])]


def events(plan: Plan, all_of: Happenings, end_s: float) -> list[dict[str, object]]:
    """The dated events as the truth file lists them, those within the record, in order of time."""
    found = [*_water_events(plan, all_of), *_meter_events(plan, all_of)]
    for where, faults in (("outlet", all_of.outlet), ("inlet", all_of.inlet)):
        found += [_probe_event(where, fault) for fault in faults]
    inside = [event for event in found if event["start"] < end_s]  # type: ignore[operator]
    inside.sort(key=lambda event: event["start"])  # type: ignore[arg-type,return-value]
    return [_dated(plan.install, event, end_s) for event in inside]


def _water_events(plan: Plan, all_of: Happenings) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    if (switch := all_of.switch) is not None:
        end = switch.start_s + switch.ramp_s
        found.append(
            {"kind": "source_change", "start": switch.start_s, "end": end, "to": switch.water.name}
        )
    if (leak := all_of.leak) is not None:
        hourly = round(leak.litres_an_hour, 2)
        found.append(
            {"kind": "leak", "start": leak.start_s, "end": leak.end_s, "litres_per_hour": hourly}
        )
    if all_of.bypass_at_s is not None and plan.bypass_later is not None:
        to = round(plan.bypass_later, 4)
        found.append({"kind": "bypass_change", "start": all_of.bypass_at_s, "end": None, "to": to})
    for first, last in plan.cafe.shut:
        local = plan.install.hour + plan.utc_offset_h
        start, end = (day * DAY_S - local * 3600 for day in (first, last))
        found.append({"kind": "holiday", "start": start, "end": end, "optional": True})
    return found


def _meter_events(plan: Plan, all_of: Happenings) -> list[dict[str, object]]:
    found: list[dict[str, object]] = [
        {"kind": "logger_outage", "start": start, "end": end} for start, end in all_of.outages
    ]
    for fault in all_of.pulse_faults:
        note = plan.scenario.replace("_", " ")
        found.append(
            {"kind": "meter_fault", "start": fault.start_s, "end": fault.end_s, "note": note}
            | {"share": round(fault.share, 3)}
        )
    return found


def _probe_event(where: str, fault: msgspec.Struct) -> dict[str, object]:
    head: dict[str, object] = {"kind": "probe_fault", "probe": where}
    if isinstance(fault, Fouling):
        note = "slow fouling, start = reading 5 % low"
        times = {"start": fault.time_low_by(0.05), "end": None, "onset": fault.onset_s}
        return head | times | {"note": note}
    if isinstance(fault, Stuck):
        return head | {"start": fault.start_s, "end": fault.end_s, "note": "stuck"}
    if isinstance(fault, Gap):
        times = {"start": fault.start_s, "end": fault.end_s}
        return head | times | {"optional": True, "note": "dropout"}
    raise TypeError(f"no event for {type(fault).__name__}")


def _dated(install: datetime, event: dict[str, object], end_s: float) -> dict[str, object]:
    out = dict(event)
    for key in ("start", "end", "onset"):
        if isinstance(out.get(key), float):
            moment = float(out[key])  # type: ignore[arg-type]
            out[key] = stamp(install, min(moment, end_s) if key == "end" else moment)
    return out
