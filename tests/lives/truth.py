"""The truth of a life, hour by hour, and the moment at which the cartridge is at its end."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import numpy as np

from .cafe import Flow
from .column import Column, UnfitLifeError
from .happenings import Happenings, events, stamp
from .plan import Plan
from .supply import HOUR_S, Supply
from .waters import hardness_dh


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """Hour by hour from the installation on: litres of the head and hardness in dH."""

    seconds: np.ndarray
    litres: np.ndarray
    bypass: np.ndarray
    raw_dh: np.ndarray
    blended_dh: np.ndarray
    treated_share: np.ndarray


class End(msgspec.Struct, frozen=True, kw_only=True):
    """When and after how many litres the capacity is at its end; `leakage` is the fresh bed's."""

    hour: int
    seconds: float
    litres: float
    leakage: float


def bypass_at(plan: Plan, happenings: Happenings, seconds: np.ndarray) -> np.ndarray:
    """The true bypass share at each moment."""
    share = np.full(len(seconds), plan.bypass_true)
    if happenings.bypass_at_s is not None and plan.bypass_later is not None:
        share[seconds >= happenings.bypass_at_s] = plan.bypass_later
    return share


def bed_litres(plan: Plan, happenings: Happenings, flow: Flow, seconds: np.ndarray) -> np.ndarray:
    """Litres that went through the bed, not round it."""
    litres = flow.litres(seconds)
    through = litres * (1 - plan.bypass_true)
    if happenings.bypass_at_s is None or plan.bypass_later is None:
        return through
    knocked = float(flow.litres(np.array([happenings.bypass_at_s]))[0])
    after = np.clip(litres - knocked, 0, None)
    return through - after * (plan.bypass_later - plan.bypass_true)


def hours(plan: Plan, happenings: Happenings, flow: Flow, main: Supply, bed: Column) -> Hours:
    """The hourly course as long as the column ran."""
    seconds = main.hours_s
    passed = bed_litres(plan, happenings, flow, seconds)
    seconds = seconds[passed <= bed.litres[-1]]
    passed = passed[: len(seconds)]
    treated = bed.treated_at(passed)
    # Calcium to alkalinity from the main at that hour; carbon does not count in hardness.
    supplied = main.rows[: len(seconds)]
    raw = np.column_stack([supplied[:, :6], np.zeros(len(supplied)), supplied[:, 6]])
    bypass = bypass_at(plan, happenings, seconds)
    blended = bypass[:, None] * raw + (1 - bypass[:, None]) * treated
    raw_dh = hardness_dh(raw, plan.kind)
    return Hours(
        seconds=seconds,
        litres=flow.litres(seconds),
        bypass=bypass,
        raw_dh=raw_dh,
        blended_dh=hardness_dh(blended, plan.kind),
        treated_share=hardness_dh(treated, plan.kind) / raw_dh,
    )


def end_of_capacity(course: Hours, litres_expected: float) -> End:
    """First hour at which a fifth of what the fresh bed removes has come back.

    Raises UnfitLifeError when the course ends before that.
    """
    young = course.litres < 0.45 * litres_expected
    settled = young & (course.litres > 0.1 * litres_expected)
    leakage = float(np.median(course.treated_share[settled if settled.any() else young]))
    limit = course.bypass + (1 - course.bypass) * (leakage + 0.2 * (1 - leakage))
    over = (course.blended_dh >= course.raw_dh * limit) & (course.litres > 0.1 * litres_expected)
    if not over.any():
        raise UnfitLifeError("the course ends before the capacity does")
    hour = int(np.argmax(over))
    return End(
        hour=hour,
        seconds=float(course.seconds[hour]),
        litres=float(course.litres[hour]),
        leakage=leakage,
    )


def truth(
    plan: Plan,
    happenings: Happenings,
    course: Hours,
    end: End,
    record_end_s: float,
    outlet_gain: float,
    flow: Flow,
) -> dict[str, object]:
    """The truth file."""
    shown = int(np.searchsorted(course.seconds, record_end_s, side="right"))
    within = end.seconds <= record_end_s
    return {
        "medium": plan.medium,
        "scenario": plan.scenario,
        "layout": plan.layout,
        "target": plan.kind,
        "raw_waters": ["raw-water-1", "raw-water-2"],
        "true_total_litres": round(end.litres, 1),
        "breakthrough": {
            "time": stamp(plan.install, end.seconds),
            "litres": round(end.litres, 1),
            "within_record": within,
        },
        "threshold": "blended >= raw * (b + (1-b)*(leakage + 0.2*(1-leakage)))",
        "fresh_leakage_share": round(end.leakage, 4),
        "capacity_error": round(plan.capacity_error, 4),
        "bypass_true": round(plan.bypass_true, 4),
        "k_factor_true": round(plan.k_factor_true, 2),
        "outlet_cell_gain_at_start": round(outlet_gain, 4),
        "days": round(record_end_s / 86400, 2),
        "milestones_percent_remaining": _milestones(plan, end, record_end_s, flow),
        "events": _events(plan, happenings, end, record_end_s, within),
        "daily": _daily(plan, course, end, shown),
        "hourly": {
            "start": stamp(plan.install, 0),
            "step_s": HOUR_S,
            "litres": [round(float(v), 2) for v in course.litres[:shown]],
            "outlet_hardness_dH": [round(float(v), 3) for v in course.blended_dh[:shown]],
            "raw_hardness_dH": [round(float(v), 3) for v in course.raw_dh[:shown]],
            "bypass": [round(float(v), 3) for v in course.bypass[:shown]],
        },
    }


def _milestones(plan: Plan, end: End, record_end_s: float, flow: Flow) -> dict[str, str | None]:
    found: dict[str, str | None] = {}
    for percent in (75, 50, 25, 10, 5):
        when = float(flow.when(np.array([end.litres * (1 - percent / 100)]))[0])
        found[str(percent)] = stamp(plan.install, when) if when <= record_end_s else None
    return found


def _events(
    plan: Plan, happenings: Happenings, end: End, record_end_s: float, within: bool
) -> list[dict[str, object]]:
    found = events(plan, happenings, record_end_s)
    if within:
        start = stamp(plan.install, end.seconds)
        found.append({"kind": "breakthrough", "start": start, "end": None})
    return sorted(found, key=lambda event: str(event["start"]))


def _daily(plan: Plan, course: Hours, end: End, shown: int) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for hour in range(0, shown, 24):
        litres = float(course.litres[hour])
        time = (plan.install + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append(
            {
                "time": time,
                "litres": round(litres, 1),
                "remaining_litres": round(max(end.litres - litres, 0.0), 1),
                "outlet_hardness_dH": round(float(course.blended_dh[hour]), 2),
                "raw_hardness_dH": round(float(course.raw_dh[hour]), 2),
            }
        )
    return rows
