"""CSV of what the site's file holds."""

from __future__ import annotations

import csv
import gzip
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import LastLitreError
from analytics.samples import (
    DRAW_COLUMNS,
    DRAW_WHOLE,
    AlarmChange,
    Draws,
    DropTest,
    Estimate,
    Point,
    Rows,
    join_rows,
    no_rows,
)
from firmware_bridge.export import ESTIMATE_NUMBERS, SHEETS, Asked, export, safe, utc
from firmware_bridge.recording import open_recording, read_rows
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.store.outgoing import estimate_numbers
from tests.dashboards.specimens import line

START_MS = 1_767_225_600_000
ALL = Asked(lines=("bar",), from_ms=0, to_ms=START_MS * 2)


def rows(count: int) -> Rows:
    """Readings five seconds apart over more than an hour, every tenth without an inlet."""
    number = np.arange(count)
    return Rows(
        at_ms=START_MS + number * 5000 + 250,
        outlet_us_cm=401.25 + number % 17,
        outlet_temp_c=19.5 + number % 3,
        inlet_us_cm=np.where(number % 10 == 0, np.nan, 612.5),
        inlet_temp_c=np.full(count, 14.75),
        pulses=number % 40,
        flags=np.zeros(count, dtype=np.int64),
    )


def draws() -> Draws:
    """Two draws."""
    return Draws(
        **{
            name: np.array([START_MS + 1000, START_MS + 90_000] if name == "start_ms" else [7, 9],
                           dtype=np.int64 if name in DRAW_WHOLE else np.float64)
            for name in DRAW_COLUMNS
        }  # type: ignore[arg-type]
    )  # fmt: skip


def estimate() -> Estimate:
    """One of the specimens' estimates."""
    found = line().estimate
    assert found is not None
    return found


@pytest.fixture
def site(tmp_path: Path) -> Store:
    """A site's file with something of everything."""
    store = Store.open(tmp_path / "site.db", site_id="harbour-steps")
    given_rows = rows(2000)
    number = np.arange(2000)
    taken = Taken(
        line_id="bar", rows=given_rows, boot_id=1, uptime_ms=number * 5000, frame_seq=number + 1
    )
    store.submit(
        Batch(
            readings=(taken,),
            draws=(("bar", "C-7", draws()),),
            estimates=(("bar", estimate()),),
            events=(
                DropTest(
                    at_ms=START_MS, line_id="bar", point=Point.TREATED, hardness_mmol_l=0.7,
                    note='=HYPERLINK("http://x")',
                ),
            ),
            alarms=(
                ("bar", AlarmChange(at_ms=START_MS, alarm="leak", change="raised",
                                    priority="high", text="-1+1: water runs.")),
            ),
        )
    ).result()  # fmt: skip
    return store


def written(site: Store, kind: str, out: Path, asked: Asked = ALL) -> list[dict[str, str]]:
    """An export read back, each row by its columns."""
    shares: list[float] = []
    count = export(site.reader(), kind, asked, out, shares.append)
    text = gzip.decompress(out.read_bytes()) if out.suffix == ".gz" else out.read_bytes()
    found = list(csv.DictReader(text.decode().splitlines()))
    assert count == len(found)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert [path.name for path in out.parent.glob(".*")] == []
    return found


@pytest.mark.parametrize("name", ["readings.csv", "readings.csv.gz"])
def test_exported_readings_can_be_replayed(site: Store, tmp_path: Path, name: str) -> None:
    """A recording made of the export holds every reading as it was stored."""
    found = written(site, "readings", tmp_path / name)
    again = no_rows()
    recording = open_recording(tmp_path / name)
    for part in read_rows(recording):
        again = join_rows(again, part)
    for file in (recording.stream, recording.raw):
        assert file is not None
        file.close()
    site.close()

    assert len(found) == 2000
    assert found[0]["time"] == "2026-01-01T00:00:00.250Z"
    assert found[10]["inlet_conductivity_uS_cm"] == ""
    for column in ("at_ms", "outlet_us_cm", "outlet_temp_c", "inlet_us_cm", "pulses"):
        np.testing.assert_array_equal(getattr(again, column), getattr(rows(2000), column))


def test_span_is_from_and_up_to(site: Store, tmp_path: Path) -> None:
    """Rows at the beginning of the span are in it, those at its end are not."""
    asked = Asked(lines=("bar",), from_ms=START_MS + 5250, to_ms=START_MS + 20_250)
    found = written(site, "readings", tmp_path / "some.csv", asked)
    site.close()

    assert [row["time"][17:] for row in found] == ["05.250Z", "10.250Z", "15.250Z"]


def test_draws_estimates_alarms_and_events(site: Store, tmp_path: Path) -> None:
    """Each kind has its rows with every figure under its name."""
    (first, second) = written(site, "draws", tmp_path / "draws.csv")
    assert (first["time"], second["pulses"], first["outlet_ec25_us_cm"]) == (
        "2026-01-01T00:00:01Z", "9", "7.0",
    )  # fmt: skip
    (known,) = written(site, "estimates", tmp_path / "estimates.csv")
    numbers = estimate_numbers(estimate())
    assert {name for name in numbers if name != "known_at_ms"} <= set(ESTIMATE_NUMBERS)
    for name, value in numbers.items():
        if name != "known_at_ms":
            assert float(known[name]) == value
    (alarm,) = written(site, "alarms", tmp_path / "alarms.csv")
    assert (alarm["alarm"], alarm["text"]) == ("leak", "'-1+1: water runs.")
    (event,) = written(site, "events", tmp_path / "events.csv")
    assert event["note"] == '\'=HYPERLINK("http://x")'
    assert "hardness_mmol_l=0.7" in event["more"]
    site.close()


@given(st.text(max_size=20) | st.floats() | st.integers() | st.none())
def test_no_text_is_a_formula(cell: str | float | int | None) -> None:
    """Whatever a text begins with, a spreadsheet takes it for text; numbers stay numbers."""
    told = safe(cell)

    if isinstance(cell, str):
        assert not told.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
        assert told.removeprefix("'") == cell or told == cell
    elif told:
        assert float(told) == cell


def test_place_that_cannot_be_written_is_told(site: Store, tmp_path: Path) -> None:
    """A missing folder is named with the mend, and nothing is left behind."""
    with pytest.raises(LastLitreError, match="nowhere") as found:
        export(site.reader(), "draws", ALL, tmp_path / "nowhere" / "d.csv", lambda _: None)
    site.close()

    assert "--out" in found.value.hint


def test_every_sheet_names_its_time_first() -> None:
    """A reader finds the instant in the first column of every kind."""
    for kind, sheet in SHEETS.items():
        assert sheet.columns[0] == "time", kind
        assert len(set(sheet.columns)) == len(sheet.columns), kind


def test_instants_before_1970_and_with_parts_of_a_second() -> None:
    """Milliseconds are written where there are any."""
    assert utc(-1) == "1969-12-31T23:59:59.999Z"
    assert utc(START_MS) == "2026-01-01T00:00:00Z"
