"""Rows as line protocol, read back by the rules of the protocol's reference."""

from __future__ import annotations

import re

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import SinkError
from firmware_bridge.forward.lines import line_of
from tests.firmware_bridge.forward.outbox import START_MS, now_ms, reading, row

TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\\"), min_size=1)
NAME = TEXT.filter(lambda name: not name.startswith("_"))
NUMBER = st.floats(allow_nan=False, allow_infinity=False)


def split(text: str, at: str) -> list[str]:
    """Split at every sign that no backslash stands before."""
    return re.split(rf"(?<!\\){at}", text)


def read_back(line: str) -> tuple[str, dict[str, str], dict[str, float], int]:
    """Measurement, tags, fields and instant of a line (InfluxDB line protocol reference)."""

    def plain(text: str) -> str:
        return re.sub(r"\\([, =])", r"\1", text)

    head, fields, at_ms = split(line, " ")
    measurement, *tags = split(head, ",")
    pairs = [[plain(side) for side in split(tag, "=")] for tag in tags]
    numbers = [split(field, "=") for field in split(fields, ",")]
    return (
        plain(measurement),
        dict(pairs),
        {plain(name): float(number) for name, number in numbers},
        int(at_ms),
    )


@given(site=TEXT, line_id=st.one_of(st.just(""), TEXT), numbers=st.dictionaries(NAME, NUMBER))
def test_line_reads_back_as_the_row(site: str, line_id: str, numbers: dict[str, float]) -> None:
    """Whatever signs its names hold, a row comes back from its line to the last bit."""
    sent = msgspec.structs.replace(reading(1), line_id=line_id, numbers=numbers)
    line = line_of(sent, site, now_ms())
    if not numbers:
        assert line == ""
        return

    tags = {"site": site} | ({"line": line_id} if line_id else {})
    assert read_back(line) == ("reading", tags, numbers, sent.at_ms)
    assert "\n" not in line


def test_whole_numbers_are_written_as_floats() -> None:
    """A number that happens to be whole does not become an integer field."""
    assert line_of(reading(1, pulses=3), "s", now_ms()) == (
        f"reading,site=s,line=bar pulses=3.0 {START_MS + 1000}"
    )


@pytest.mark.parametrize("sign", ["\\", "\n", "\r", "\x00", "\t", "\ud800"])
@pytest.mark.parametrize("where", ["site", "line", "name"])
def test_signs_that_cannot_be_written_are_refused(sign: str, where: str) -> None:
    """A backslash, a control sign or half a surrogate in a name is refused, not passed on."""
    odd = f"a{sign}b"
    sent = reading(1, **{odd if where == "name" else "outlet_us_cm": 1.0})
    if where == "line":
        sent = msgspec.structs.replace(sent, line_id=odd)
    with pytest.raises(SinkError, match="cannot be written"):
        line_of(sent, odd if where == "site" else "s", now_ms())


def test_estimate_made_again_has_a_series_of_its_own() -> None:
    """Two estimates for one instant never meet in one series, whatever the store does then."""
    first = row(1, "estimate", remaining_l_p50=800.0, known_at_ms=5.0)
    again = msgspec.structs.replace(first, seq=9, revision=1)
    third = msgspec.structs.replace(first, seq=12, revision=2)
    lines = [read_back(line_of(sent, "s", now_ms())) for sent in (first, again, third)]

    place = {"site": "s", "line": "bar"}
    assert [(name, tags) for name, tags, _, _ in lines] == [
        ("estimate", place),
        ("estimate_revised", place | {"revision": "1"}),
        ("estimate_revised", place | {"revision": "2"}),
    ]
    assert {at_ms for *_, at_ms in lines} == {START_MS + 1000}


def test_an_alarm_without_numbers_is_a_point() -> None:
    """A change of an alarm is one point even where it carries no number."""
    line = line_of(row(1, "alarm", {"alarm": "leak", "change": "cleared"}), "s", now_ms())
    assert line == f"alarm,site=s,line=bar,alarm=leak,change=cleared changes=1.0 {START_MS + 1000}"
