"""A running site's figures, gathered when a machine asks for them."""

from __future__ import annotations

from collections.abc import Callable

from dashboards.metrics import SiteMetrics, openmetrics
from firmware_bridge.daemon import Running
from firmware_bridge.store.reader import Reader


def metrics_of(running: Running, reader: Reader) -> Callable[[], str]:
    """What writes the figures of a running site; it reads the file, so not on the loop."""

    def write() -> str:
        return openmetrics(gathered(running, reader))

    return write


def gathered(running: Running, reader: Reader) -> SiteMetrics:
    """The site's figures now; raises StoreError where the file cannot be read."""
    lines = [line.line_id for line in running.site.setup.lines]
    return SiteMetrics(
        site_id=running.site.setup.site_id,
        now_ms=running.clock.now_ms(),
        rows_stored=reader.newest(),
        counters=reader.counters(),
        sinks=tuple(sink.status for sink in running.sinks),
        rejected=reader.rejected_counts(),
        meters=tuple(meter.health for meter in running.meters),
        estimates={line: reader.latest_estimate(line) for line in lines},
        live={line: running.live.latest(line) for line in lines},
    )
