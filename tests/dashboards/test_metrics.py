"""Figures for machines: read by a parser that is not ours."""

from __future__ import annotations

import httpx
import pytest
from prometheus_client.openmetrics.parser import text_fd_to_metric_families

from dashboards.metrics import MEDIA_TYPE, SiteMetrics, openmetrics, resident_bytes
from dashboards.web import create_app
from firmware_bridge.acquire import Health
from firmware_bridge.forward.runner import Condition, SinkStatus
from firmware_bridge.live import Latest
from tests.dashboards.specimens import FixedSource, line, site

NOW_MS = 1_767_225_600_000


def figures(**more: object) -> SiteMetrics:
    """A site with a sink that lags and a meter that has counted."""
    sink = SinkStatus(
        name="mqtt", condition=Condition.FLOWING, sent=900, accepted=890, repeated=10,
        confirmed=850, backlog=40, waits_since_ms=NOW_MS - 12_500, retries=2,
    )  # fmt: skip
    meter = Health(
        meter_id='no"de\\1\n', port="/dev/null", open=True, heard_ms=NOW_MS - 500, failures=1,
        faults=0, last_fault="", advice="", counts={"damaged": 3},
    )  # fmt: skip
    given = {
        "site_id": "harbour-steps", "now_ms": NOW_MS, "rows_stored": 890,
        "counters": {"rows_doubled": 4}, "sinks": (sink,), "rejected": {"mqtt": 7},
        "meters": (meter,), "estimates": {"bar": line().estimate, "mill": None},
        "live": {"bar": Latest(values={"outlet_ec25_us_cm": 412.5}, at_ms={
            "outlet_ec25_us_cm": NOW_MS - 1000})},
    }  # fmt: skip
    return SiteMetrics(**given | more)  # type: ignore[arg-type]


def parsed(text: str) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Every sample by name and labels."""
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_fd_to_metric_families(iter(text.splitlines(keepends=True)))
        for sample in family.samples
    }


def test_a_real_parser_reads_every_figure() -> None:
    """Rows, backlog, its age, refusals, meters, estimate and memory come through as they are."""
    found = parsed(openmetrics(figures()))
    mqtt = (("sink", "mqtt"),)

    assert found["lastlitre_rows_stored_total", ()] == 890
    assert found["lastlitre_sink_rows_sent_total", mqtt] == 900
    assert found["lastlitre_sink_rows_confirmed_total", mqtt] == 850
    assert found["lastlitre_sink_rows_rejected_total", mqtt] == 7
    assert found["lastlitre_sink_backlog_rows", mqtt] == 40
    assert found["lastlitre_sink_backlog_age_seconds", mqtt] == 12.5
    assert found["lastlitre_store_counted_total", (("what", "rows_doubled"),)] == 4
    odd = ("meter", 'no"de\\1\n')
    assert found["lastlitre_meter_counted_total", (odd, ("what", "damaged"))] == 3
    assert found["lastlitre_meter_silence_seconds", (odd,)] == 0.5
    remaining = line().estimate.remaining_l
    half = (("line", "bar"), ("quantile", "0.5"))
    assert found["lastlitre_estimate_remaining_litres", half] == remaining.p50
    assert 1e6 < found["lastlitre_resident_memory_bytes", ()] < 1e11
    channel = (("channel", "outlet_ec25_us_cm"), ("line", "bar"))
    assert found["lastlitre_reading", channel] == 412.5


def test_site_without_anything_is_still_sound() -> None:
    """With no sink, meter or estimate yet, the text is complete and ends as it must."""
    empty = figures(sinks=(), meters=(), estimates={}, live={}, counters={}, rejected={})
    text = openmetrics(empty)

    assert text.endswith("# EOF\n")
    assert set(parsed(text)) >= {("lastlitre_rows_stored_total", ())}


def test_memory_is_that_of_this_process() -> None:
    """A process that takes 64 MiB more says so."""
    before = resident_bytes()
    held = bytearray(64 * 2**20)
    held[::4096] = b"x" * len(held[::4096])

    assert resident_bytes() - before > 48 * 2**20


@pytest.mark.parametrize(("told", "status"), [(True, 200), (False, 404)])
async def test_page_server_has_them_where_there_is_a_site(told: bool, status: int) -> None:
    """`/metrics` answers in the standard's media type."""
    app = create_app(
        FixedSource(site(line())), metrics=(lambda: openmetrics(figures())) if told else None
    )
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
        answer = await client.get("/metrics")

    assert answer.status_code == status
    if told:
        assert answer.headers["content-type"] == MEDIA_TYPE
        assert parsed(answer.text)
