"""What a chart shows, as CSV: one row a bin, units in the names of the columns."""

from __future__ import annotations

import csv
import io
import math
from datetime import UTC, datetime

from dashboards.history.record import Record

COLUMNS = (
    "from",
    "until",
    "outlet_ec25_uS_cm",
    "outlet_ec25_lowest_uS_cm",
    "outlet_ec25_highest_uS_cm",
    "inlet_ec25_uS_cm",
    "inlet_ec25_lowest_uS_cm",
    "inlet_ec25_highest_uS_cm",
    "outlet_temperature_C",
    "mean_flow_L_min",
    "fastest_flow_L_min",
    "drawn_L",
    "outlet_hardness_mmol_L",
    "outlet_hardness_p05_mmol_L",
    "outlet_hardness_p95_mmol_L",
)


def table(record: Record) -> str:
    """The CSV; instants in UTC, blank is no reading."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    hardness = record.hardness
    edges = record.bins.edges.tolist()
    place = 0
    for n in range(len(record.bins)):
        last = None
        while place < len(hardness) and hardness[place][0] < edges[n + 1]:
            last = hardness[place][1] if hardness[place][0] >= edges[n] else None
            place += 1
        figures = (
            *(t[n] for trace in (record.ec_out, record.ec_in)
              for t in (trace.mean, trace.low, trace.high)),
            record.temp.mean[n],
            record.flow.mean[n],
            record.flow.high[n],
            record.litres[n],
            *((last.p50, last.p05, last.p95) if last else (math.nan,) * 3),
        )  # fmt: skip
        writer.writerow([iso(edges[n]), iso(edges[n + 1]), *map(_cell, figures)])
    return out.getvalue()


def iso(at_ms: int) -> str:
    """An instant in UTC."""
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).isoformat().replace("+00:00", "Z")


def _cell(value: float) -> str:
    return f"{value:.4g}" if math.isfinite(value) else ""
