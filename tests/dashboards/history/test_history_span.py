"""Which span an address asks for, and where one can go from it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from dashboards.history.bins import bins_of
from dashboards.history.span import LONGEST_MS, NAMED, Span, asked_for, moves, named, query_of
from dashboards.phrases.times import local_midnight
from tests.dashboards.stored_site import NOW_MS, ROME, TODAY

FIRST_MS = NOW_MS - 700 * DAY_MS


@pytest.mark.parametrize("name", NAMED)
def test_named_span_ends_now(name: str) -> None:
    """Every name gives its length up to the present minute; all begins with the first row."""
    span = asked_for({"span": name}, ROME, NOW_MS, FIRST_MS)

    assert NOW_MS < span.to_ms <= NOW_MS + MINUTE_MS
    assert span.length_ms == (NAMED[name] or span.to_ms - FIRST_MS)
    assert span.misread == ""


@pytest.mark.parametrize(
    "query",
    [
        {"span": "fortnight"},
        {"from": "yesterday", "to": "2026-04-01T10:00"},
        {"from": "2026-04-02T10:00", "to": "2026-04-01T10:00"},
        {"from": "2026-04-01T10:00"},
        {"from": "1066-10-14T09:00", "to": "2026-04-01T10:00"},
        {"from": "2026-04-01T10:00+02:00", "to": "2026-04-02T10:00+02:00"},
    ],
)
def test_address_that_cannot_be_read_gives_ninety_days_and_says_so(query: dict[str, str]) -> None:
    """Nobody sees an error for a broken link: the usual span, and what was not understood."""
    span = asked_for(query, ROME, NOW_MS, FIRST_MS)

    assert span.length_ms == 90 * DAY_MS
    assert span.misread
    assert next(iter(query.values())) in span.misread


def test_link_shows_the_same_span_again_across_the_change_to_summer_time() -> None:
    """Local instants of an address come back as they were."""
    start = local_midnight(ROME, TODAY) - 6 * DAY_MS
    span = Span(from_ms=start, to_ms=start + 5 * DAY_MS)

    again = asked_for(query_of(span, ROME), ROME, NOW_MS, FIRST_MS)

    assert (again.from_ms, again.to_ms) == (span.from_ms, span.to_ms)


@given(st.text(max_size=40), st.text(max_size=40), st.text(max_size=40))
def test_any_query_gives_a_span(a: str, b: str, c: str) -> None:
    """Whatever stands in an address, there is a span of a sensible length."""
    span = asked_for({"from": a, "to": b, "span": c}, ROME, NOW_MS, None)

    assert 0 < span.length_ms <= LONGEST_MS


@given(st.integers(0, 600), st.integers(10, 600 * 1440))
def test_every_span_has_few_bins_that_cover_it(days_ago: int, minutes: int) -> None:
    """Bins touch one another, cover the span and stay few enough to draw."""
    end = NOW_MS - days_ago * DAY_MS
    span = Span(from_ms=end - minutes * MINUTE_MS, to_ms=end)
    bins = bins_of(span, ROME)

    assert (bins.edges[0], bins.edges[-1]) == (span.from_ms, span.to_ms)
    assert (bins.edges[1:] > bins.edges[:-1]).all()
    assert len(bins) <= 1100


def test_days_are_local_days() -> None:
    """A day of 23 hours is a bin of 23 hours."""
    midnight = local_midnight(ROME, TODAY)
    bins = bins_of(Span(from_ms=midnight - 60 * DAY_MS, to_ms=midnight), ROME)

    assert sorted({int(w) // HOUR_MS for w in bins.edges[2:-1] - bins.edges[1:-2]}) == [23, 24]


def test_moves_never_lead_past_the_present() -> None:
    """Later is offered only where there is a later; closer and wider keep the middle."""
    span = named("week", NOW_MS, FIRST_MS)
    there = moves(span, NOW_MS)

    assert "later" not in there
    assert there["closer"].length_ms == pytest.approx(span.length_ms / 3, abs=MINUTE_MS)
    assert there["wider"].length_ms == pytest.approx(3 * span.length_ms, abs=MINUTE_MS)
    assert all(to.to_ms <= NOW_MS + 2 * MINUTE_MS for to in there.values())
    assert moves(there["earlier"], NOW_MS)["later"].to_ms > there["earlier"].to_ms
