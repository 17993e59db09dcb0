"""Nine days in the life of a site, in its store."""

from __future__ import annotations

import msgspec

from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AlarmChange,
    CartridgeFitted,
    DropTest,
    KFactorSet,
    Point,
    Spread,
)
from tests.dashboards.specimens import estimate
from tests.dashboards.stored_site import NOW_MS, Site, event, minutes


def live_nine_days(place: Site) -> None:
    """Nine days of rows, a cartridge that ran three days past its end, and its successor."""
    rows = minutes()
    end_ms = int(rows.at_ms[-1]) + HOUR_MS
    place.keep_rows(rows)
    place.keep(
        draws=(("bar", "", find_draws(Run(), rows, end_ms, Gate.at(1000.0),
                                      f25_where_defined)[1]),),
        events=(
            event(CartridgeFitted, 60, cartridge_id="HS-0001", who="Ada"),
            event(KFactorSet, 59, pulses_per_l=1000.0, relative_sd=0.01),
            event(DropTest, 6, point=Point.BLENDED, alkalinity_meq_l=2.5, who="Ada"),
            event(CartridgeFitted, 2, cartridge_id="HS-0002", who="Ben", note="=1+1"),
        ),
        alarms=(("bar", AlarmChange(at_ms=NOW_MS - 4 * DAY_MS, alarm="breakthrough",
                                    change="raised", priority="high")),),
        estimates=tuple(_estimates()),
    )  # fmt: skip


def _estimates() -> list[tuple[str, object]]:
    found = []
    for hour in range(24 * 7, 48, -6):
        at_ms = NOW_MS - hour * HOUR_MS
        used = 0.95 + (24 * 7 - hour) / 1200
        found.append(
            (
                "bar",
                msgspec.structs.replace(
                    estimate(used, 0.01),
                    at_ms=at_ms,
                    known_at_ms=at_ms,
                    cartridge_id="HS-0001",
                    outlet_mmol_l=Spread(p50=1.0 + used, p05=1.8, p95=2.2),
                    end_ms=_end(),
                    end_probability=1.0 if used > 1.0 else 0.0,
                ),
            )
        )
    return found


def _end() -> Spread:
    at = float(NOW_MS - 5 * DAY_MS)
    return Spread(p05=at - DAY_MS, p50=at, p95=at + DAY_MS)
