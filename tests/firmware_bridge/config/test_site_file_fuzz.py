"""Whatever stands in a file, the answer is a site or a list of faults."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import ConfigError
from firmware_bridge.config import Fault, Site, from_notes, kinds
from firmware_bridge.config.box_tables import MeterTable
from firmware_bridge.config.build import compile_bytes
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.draft import TABLES
from firmware_bridge.config.reading import fields_of
from firmware_bridge.config.sink_options.mqtt import Mqtt
from firmware_bridge.config.tables import LimitsTable, LineTable, SiteTable
from firmware_bridge.config.writing import text as toml
from firmware_bridge.units import UnitError, parse
from tests.firmware_bridge.config.site_files import GOOD, NOW

KEYS = sorted(
    {
        f.key
        for table in (SiteTable, LineTable, LimitsTable, MeterTable, Mqtt)
        for f in fields_of(table)
    }
    | {f.key for entry, _ in DATED.values() for f in fields_of(entry)}
    | {"kind", "driver", "zzz"}
)
WORDS = ["hydrogen", "sodium", "mqtt", "line-protocol", "node-serial", "drop-test", "closure",
         "cross-zero", "outlet", "30 %", "3600 dH*L", "1380 pulse/L", "closed", "18:00-02:00",
         "12 month", "new", "unknown", "Europe/Berlin", "http://a:b@c", "raw", "bar", "../..",
         "1e308 dH", "\x7f", "°"]  # fmt: skip
VALUES = st.one_of(
    st.sampled_from(WORDS),
    st.text(max_size=12).filter(lambda t: t.isprintable()),
    st.integers(-(2**70), 2**70),
    st.floats(),
    st.booleans(),
    st.datetimes(timezones=st.sampled_from([dt.UTC, dt.timezone(dt.timedelta(hours=14))])),
    st.lists(st.sampled_from(WORDS), max_size=3),
)
ENTRIES = st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=8)
HEADINGS = st.sampled_from(
    [f"[{t}]" for t in TABLES] + [f"[[{t}]]" for t in TABLES] + ["[site.opening]", "[line.limits]"]
)


def written(value: Any) -> str:
    if isinstance(value, float) and value != value:
        return "nan"
    return toml(value)


def answered(data: bytes) -> None:
    found = compile_bytes(data, "bar.toml", Path("/srv"), NOW)

    if isinstance(found, Site):
        return
    assert found
    assert all(isinstance(f, Fault) and f.file == "bar.toml" and "\n" not in str(f) for f in found)


@given(st.binary(max_size=300))
def test_any_bytes_are_answered(data: bytes) -> None:
    """Random bytes are a fault, never a crash."""
    answered(data)


@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    """Random text likewise."""
    answered(text.encode("utf-8", "surrogatepass"))


@settings(max_examples=300)
@given(st.lists(st.tuples(HEADINGS, ENTRIES), max_size=6))
def test_any_tables_are_answered(tables: list[tuple[str, dict[str, Any]]]) -> None:
    """Known tables and keys with any value."""
    parts = [
        "\n".join([heading, *(f"{k} = {written(v)}" for k, v in entries.items())])
        for heading, entries in tables
    ]
    answered("\n".join(parts).encode())


@settings(max_examples=300)
@given(st.data())
def test_good_file_with_one_value_replaced_is_answered(data: st.DataObject) -> None:
    """Every entry of a good file, with any value in its place."""
    lines = GOOD.splitlines()
    places = [i for i, line in enumerate(lines) if " = " in line]
    place = data.draw(st.sampled_from(places))
    lines[place] = f"{lines[place].split(' = ')[0]} = {written(data.draw(VALUES))}"
    answered("\n".join(lines).encode())


@given(st.integers(0, len(GOOD.encode())), st.binary(min_size=1, max_size=3))
def test_good_file_with_bytes_put_in_is_answered(at: int, more: bytes) -> None:
    """A slip of the keyboard or of the disk."""
    data = GOOD.encode()
    answered(data[:at] + more + data[at:])


@given(
    st.sampled_from(kinds.ALL_KINDS),
    st.text("0123456789.eE+-*/^ ()dHfLmgµu°%CaO3Slorsinpt\u00b3\u207b\u00b9_,", max_size=30),
)
def test_any_quantity_is_a_number_or_refused(kind: kinds.Kind, text: str) -> None:
    """Whatever is written as a quantity is a finite number or a UnitError."""
    try:
        value = parse(text, kind)
    except UnitError:
        value = 0.0

    assert abs(value) < float("inf")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8) | st.integers(-(10**30), 10**30),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)
NOTE_KEYS = ["case", "medium", "capacity_basis", "rated_capacity_dH_litres", "bypass_setpoint",
             "k_factor_pulses_per_litre", "install_date", "utc_offset_hours", "layout",
             "utility_report", "drop_tests", "raw_water_reading"]  # fmt: skip
GOOD_NOTES = {
    "case": "Harbour Steps", "medium": "sodium", "capacity_basis": "total_hardness",
    "rated_capacity_dH_litres": 100, "bypass_setpoint": 0.1, "k_factor_pulses_per_litre": 100,
    "install_date": "2025-01-01T00:00:00Z", "utc_offset_hours": 1, "layout": "outlet",
}  # fmt: skip


@given(st.dictionaries(st.sampled_from(NOTE_KEYS), JSON, min_size=1, max_size=3))
def test_any_notes_are_a_site_file_or_an_error(
    tmp_path_factory: Any, changed: dict[str, Any]
) -> None:
    """Notes with anything in them: a site file that compiles, or a ConfigError."""
    path = tmp_path_factory.getbasetemp() / "notes.json"
    path.write_text(json.dumps({**GOOD_NOTES, **changed}))
    try:
        text = from_notes(path)
    except ConfigError:
        return

    assert isinstance(compile_bytes(text.encode(), "bar.toml", Path("/srv"), NOW), Site)
