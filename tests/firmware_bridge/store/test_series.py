"""A channel as a few points, at every width, compared with the rows themselves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, ROW_COLUMNS, Rows
from firmware_bridge.store.database import Store
from firmware_bridge.store.series import Series
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, keep, shifted, some_rows, taken_of

SPANS = {
    "minutes": (2 * MINUTE_MS, 40),
    "an hour": (HOUR_MS, 500),
    "half a day": (DAY_MS // 2, 300),
    "three days": (3 * DAY_MS, 200),
    "three days in hours": (3 * DAY_MS, 50),
    "one point": (3 * DAY_MS, 1),
}


def expected(rows: Rows, channel: str, found: Series, place: int) -> np.ndarray:
    """The values of the rows in a span of the series."""
    begin = found.at_ms[place]
    inside = (rows.at_ms >= begin) & (rows.at_ms < begin + found.width_ms)
    values = getattr(rows, channel)[inside].astype(float)
    return values[np.isfinite(values) & ((values >= 0) | (channel != "pulses"))]


@pytest.mark.parametrize("channel", ["outlet_us_cm", "inlet_temp_c", "pulses"])
@pytest.mark.parametrize("span", SPANS)
def test_every_span_has_the_lowest_mean_and_highest_of_its_rows(
    tmp_path: Path, span: str, channel: str
) -> None:
    """Packed hours, an open hour and late rows together."""
    width_ms, points = SPANS[span]
    rows = some_rows(3 * 1440 * 2, every_ms=30_000)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        late = [(1000, 1030), (3000, 3001)]
        for start, stop in [(0, 1000), (1030, 3000), (3001, 8000), (8000, 8640), *late]:
            keep(store, taken_of(rows.cut(start, stop), start + 1))
        end_ms = HOUR_BEGIN_MS + 3 * DAY_MS
        found = store.reader().series("bar", channel, end_ms - width_ms, end_ms, points)
    assert 0 < len(found) <= points
    inside = rows.cut(int(np.searchsorted(rows.at_ms, found.at_ms[0])), len(rows))
    assert found.count.sum() == sum(
        len(expected(inside, channel, found, place)) for place in range(len(found))
    )
    for place in range(len(found)):
        values = expected(rows, channel, found, place)
        assert found.count[place] == len(values)
        assert found.low[place] == values.min()
        assert found.high[place] == values.max()
        assert found.mean[place] == pytest.approx(values.mean(), rel=1e-12)


def test_a_spike_of_one_row_is_seen_at_every_width(tmp_path: Path) -> None:
    """One row in sixty days that leaps up, one that drops: both are in the series of any width."""
    rows = some_rows(60 * 1440, every_ms=MINUTE_MS)
    columns = {name: getattr(rows, name) for name in ROW_COLUMNS}
    columns["outlet_us_cm"] = columns["outlet_us_cm"].copy()
    columns["outlet_us_cm"][[77_777, 77_778]] = (1999.0, 0.5)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(Rows(**columns)))
        reader = store.reader()
        for points in (1, 10, 100, 1000):
            found = reader.series(
                "bar", "outlet_us_cm", HOUR_BEGIN_MS, HOUR_BEGIN_MS + 60 * DAY_MS, points
            )
            assert len(found) <= points
            assert found.high.max() == 1999.0
            assert found.low.min() == 0.5
            assert found.count.sum() == np.isfinite(columns["outlet_us_cm"]).sum()


def test_spans_without_a_value_are_left_out(tmp_path: Path) -> None:
    """A gap of hours, and a channel that was never read."""
    rows = some_rows(60, every_ms=MINUTE_MS)
    blank = Rows(
        **{name: getattr(rows, name) for name in ROW_COLUMNS if name != "inlet_us_cm"},
        inlet_us_cm=np.full(60, np.nan),
    )
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(blank), taken_of(shifted(blank, 5 * HOUR_MS), 61))
        reader = store.reader()
        found = reader.series("bar", "outlet_us_cm", HOUR_BEGIN_MS, HOUR_BEGIN_MS + DAY_MS, 24)
        assert found.at_ms.tolist() == [HOUR_BEGIN_MS, HOUR_BEGIN_MS + 5 * HOUR_MS]
        empty = reader.series("bar", "inlet_us_cm", HOUR_BEGIN_MS, HOUR_BEGIN_MS + DAY_MS, 24)
        assert len(empty) == 0


def test_pulses_are_counted_by_the_hour(tmp_path: Path) -> None:
    """Each whole hour's pulses, missing counts left out, open and packed hours alike."""
    rows = some_rows(5 * 60, every_ms=MINUTE_MS)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(rows))
        hours, pulses = store.reader().pulses_by_hour(
            "bar", HOUR_BEGIN_MS + 1, HOUR_BEGIN_MS + 9 * HOUR_MS
        )
    there = np.where(rows.pulses < 0, 0, rows.pulses).reshape(5, 60).sum(axis=1)
    assert hours.tolist() == [HOUR_BEGIN_MS + hour * HOUR_MS for hour in range(1, 5)]
    assert pulses.tolist() == there[1:].tolist()


@pytest.mark.parametrize(
    ("channel", "width", "points"), [("colour", 10, 5), ("pulses", 0, 5), ("pulses", 10, 0)]
)
def test_a_series_that_cannot_be_is_refused(
    tmp_path: Path, channel: str, width: int, points: int
) -> None:
    """An unknown channel, an empty span, no points."""
    with (
        Store.open(tmp_path / "site.db", site_id="s") as store,
        pytest.raises(ValueError, match=r"no channel|cannot be given"),
    ):
        store.reader().series("bar", channel, 0, width, points)
