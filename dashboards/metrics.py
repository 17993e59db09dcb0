"""The site's own figures for a machine that watches machines: OpenMetrics 1.0 text.

    # TYPE lastlitre_sink_rows_sent counter
    # HELP lastlitre_sink_rows_sent Rows handed to the sink, tries included.
    lastlitre_sink_rows_sent_total{sink="mqtt"} 1234
    # EOF

Counters are since the start of the daemon unless their help says otherwise.
"""

from __future__ import annotations

import resource
from collections.abc import Callable, Iterable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Literal

import msgspec

from analytics.samples import Estimate, Spread
from firmware_bridge.acquire import Health
from firmware_bridge.forward.runner import Condition, SinkStatus
from firmware_bridge.live import Latest

MEDIA_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"

PAGE_BYTES = resource.getpagesize()
"""Of a page of memory, as the kernel counts them."""

_ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "\n": "\\n"})

Labels = dict[str, str]
Sample = tuple[Labels, float | None]
"""A value with its labels; None is left out."""


class SiteMetrics(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be told of a site at `now_ms`. `rejected` counts rows kept aside, for ever."""

    site_id: str
    now_ms: int
    rows_stored: int
    counters: dict[str, int]
    sinks: tuple[SinkStatus, ...]
    rejected: dict[str, int]
    meters: tuple[Health, ...]
    estimates: dict[str, Estimate | None]
    live: dict[str, Latest]


class Family(msgspec.Struct, frozen=True, kw_only=True):
    """One name with its samples; `unit`, where there is one, ends the name."""

    name: str
    kind: Literal["counter", "gauge", "info"]
    help: str
    samples: Sequence[Sample]
    unit: str = ""


def openmetrics(site: SiteMetrics) -> str:
    """The whole text."""
    families = [*_program(site), *_sinks(site), *_meters(site), *_estimates(site), *_live(site)]
    return "".join(_lines(family) for family in families if family.samples) + "# EOF\n"


def _lines(family: Family) -> str:
    name = family.name
    ending = {"counter": "_total", "info": "_info", "gauge": ""}[family.kind]
    head = [f"# TYPE {name} {family.kind}"]
    if family.unit:
        head.append(f"# UNIT {name} {family.unit}")
    head.append(f"# HELP {name} {family.help.translate(_ESCAPES)}")
    told = [
        f"{name}{ending}{_labels(labels)} {value!r}"
        for labels, value in family.samples
        if value is not None
    ]
    return "\n".join([*head, *told]) + "\n"


def _labels(labels: Labels) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{k}="{v.translate(_ESCAPES)}"' for k, v in labels.items()) + "}"


def _program(site: SiteMetrics) -> Iterable[Family]:
    about = {"version": version("lastlitre"), "site": site.site_id}
    yield Family(name="lastlitre", kind="info", help="The program.", samples=[(about, 1)])
    yield Family(
        name="lastlitre_rows_stored", kind="counter",
        help="Highest number given to a row of this site, for the life of its file.",
        samples=[({}, site.rows_stored)],
    )  # fmt: skip
    yield Family(
        name="lastlitre_store_counted", kind="counter",
        help="What the store counted of rows refused, lost or doubled, for the life of its file.",
        samples=[({"what": what}, count) for what, count in sorted(site.counters.items())],
    )  # fmt: skip
    yield Family(
        name="lastlitre_resident_memory_bytes", kind="gauge", unit="bytes",
        help="Memory of the daemon.", samples=[({}, resident_bytes())],
    )  # fmt: skip


_SINK_COUNTERS: tuple[tuple[str, str, Callable[[SinkStatus], int]], ...] = (
    ("rows_sent", "Rows handed to the sink, tries included.", lambda s: s.sent),
    ("rows_accepted", "Rows taken the first time.", lambda s: s.accepted),
    ("rows_repeated", "Rows taken once more.", lambda s: s.repeated),
    ("rows_confirmed", "Rows the far side has for good.", lambda s: s.confirmed),
    ("retries", "Failed tries.", lambda s: s.retries),
    ("words_unreadable", "Words of the far side that made no sense.", lambda s: s.unreadable),
)


def _sinks(site: SiteMetrics) -> Iterable[Family]:
    for name, text, of in _SINK_COUNTERS:
        yield Family(
            name=f"lastlitre_sink_{name}", kind="counter", help=text,
            samples=[({"sink": sink.name}, of(sink)) for sink in site.sinks],
        )  # fmt: skip
    yield Family(
        name="lastlitre_sink_rows_rejected", kind="counter",
        help="Rows refused for good and kept aside with the reason, for the life of the file.",
        samples=[({"sink": s.name}, site.rejected.get(s.name, 0)) for s in site.sinks],
    )  # fmt: skip
    yield Family(
        name="lastlitre_sink_backlog_rows", kind="gauge", unit="rows",
        help="Rows the far side has not confirmed.",
        samples=[({"sink": sink.name}, sink.backlog) for sink in site.sinks],
    )  # fmt: skip
    yield Family(
        name="lastlitre_sink_backlog_age_seconds", kind="gauge", unit="seconds",
        help="Age of the oldest row that is not confirmed; 0 where none waits.",
        samples=[({"sink": sink.name}, _age_s(site, sink.waits_since_ms)) for sink in site.sinks],
    )  # fmt: skip
    yield Family(
        name="lastlitre_sink_flowing", kind="gauge", help="1 while rows flow and are confirmed.",
        samples=[({"sink": s.name}, int(s.condition is Condition.FLOWING)) for s in site.sinks],
    )  # fmt: skip


def _age_s(site: SiteMetrics, since_ms: int | None) -> float:
    return 0.0 if since_ms is None else max(site.now_ms - since_ms, 0) / 1000.0


def _meters(site: SiteMetrics) -> Iterable[Family]:
    yield Family(
        name="lastlitre_meter_open", kind="gauge", help="1 while the meter's line is open.",
        samples=[({"meter": meter.meter_id}, int(meter.open)) for meter in site.meters],
    )  # fmt: skip
    yield Family(
        name="lastlitre_meter_silence_seconds", kind="gauge", unit="seconds",
        help="Time since the meter was last heard.",
        samples=[
            ({"meter": m.meter_id}, None if m.heard_ms is None else _age_s(site, m.heard_ms))
            for m in site.meters
        ],
    )  # fmt: skip
    yield Family(
        name="lastlitre_meter_failures", kind="counter", help="How often the line failed.",
        samples=[({"meter": meter.meter_id}, meter.failures) for meter in site.meters],
    )  # fmt: skip
    yield Family(
        name="lastlitre_meter_counted", kind="counter", help="What the meter's driver counted.",
        samples=[
            ({"meter": meter.meter_id, "what": what}, count)
            for meter in site.meters
            for what, count in sorted(meter.counts.items())
        ],
    )  # fmt: skip


_SPREADS: tuple[tuple[str, str, Callable[[Estimate], Spread | None]], ...] = (
    ("remaining_litres", "Litres left to the end of the capacity.", lambda e: e.remaining_l),
    ("days_left_days", "Days left to the end.", lambda e: e.days_left),
    ("used_ratio", "Share of the capacity that is used.", lambda e: e.used_share),
    ("outlet_hardness_mmol_per_litre", "Hardness behind filter and bypass.",
     lambda e: e.outlet_mmol_l),
)  # fmt: skip


def _estimates(site: SiteMetrics) -> Iterable[Family]:
    known = {line: e for line, e in site.estimates.items() if e is not None}
    for name, text, of in _SPREADS:
        yield Family(
            name=f"lastlitre_estimate_{name}", kind="gauge", help=f"{text} By quantile.",
            samples=[
                ({"line": line, "quantile": quantile}, value)
                for line, estimate in known.items()
                for quantile, value in _quantiles(of(estimate))
            ],
        )  # fmt: skip
    yield Family(
        name="lastlitre_estimate_end_probability_ratio", kind="gauge",
        help="Probability that the end of the capacity has been reached.",
        samples=[({"line": line}, e.end_probability) for line, e in known.items()],
    )  # fmt: skip
    yield Family(
        name="lastlitre_estimate_trusted", kind="gauge",
        help="1 while the estimate is to be trusted.",
        samples=[({"line": line}, int(e.trusted)) for line, e in known.items()],
    )  # fmt: skip
    yield Family(
        name="lastlitre_estimate_age_seconds", kind="gauge", unit="seconds",
        help="Time since the instant the estimate speaks of.",
        samples=[({"line": line}, _age_s(site, e.at_ms)) for line, e in known.items()],
    )  # fmt: skip


def _quantiles(spread: Spread | None) -> list[tuple[str, float]]:
    if spread is None:
        return []
    return [("0.05", spread.p05), ("0.5", spread.p50), ("0.95", spread.p95)]


def _live(site: SiteMetrics) -> Iterable[Family]:
    yield Family(
        name="lastlitre_reading", kind="gauge",
        help="Newest value of a channel, in the unit its name ends with.",
        samples=[
            ({"line": line, "channel": channel}, value)
            for line, latest in site.live.items()
            for channel, value in sorted(latest.values.items())
        ],
    )  # fmt: skip
    yield Family(
        name="lastlitre_reading_age_seconds", kind="gauge", unit="seconds",
        help="Age of the newest value of a channel.",
        samples=[
            ({"line": line, "channel": channel}, _age_s(site, at_ms))
            for line, latest in site.live.items()
            for channel, at_ms in sorted(latest.at_ms.items())
        ],
    )  # fmt: skip


def resident_bytes() -> int:
    """Memory of this process that is in use, as the kernel has it."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * PAGE_BYTES
