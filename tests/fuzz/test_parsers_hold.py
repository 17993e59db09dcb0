"""Every parser, fed with anything: an answer or an error of ours with a hint; never a crash, never
a hang, never more memory than stated.

Each parser stands in `PARSERS` with well-formed examples: what is fed is random, and what is nearly
right (examples cut, doubled, with bytes changed).
"""

from __future__ import annotations

import asyncio
import gzip
import io
import json
import tempfile
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import LastLitreError
from analytics.pipeline import LineState, start
from analytics.setup import LocalTime
from analytics.snapshot import from_bytes, to_bytes
from dashboards.access.gate import Refused, fields_in
from dashboards.access.people import People
from dashboards.access.rules import Rules, caller_of, host_name
from dashboards.access.sign_in import own_address
from dashboards.taste import Taste, taste_of
from firmware_bridge.config.fault import redact
from firmware_bridge.config.loading import load
from firmware_bridge.config.notes import from_notes
from firmware_bridge.config.packed import unpack
from firmware_bridge.config.toml_file import parse
from firmware_bridge.firmware.frames import Parser
from firmware_bridge.forward import payloads
from firmware_bridge.logbook.hatch import answered
from firmware_bridge.recording import open_recording, read_rows
from firmware_bridge.store.blocks import unpack_numbers, unpack_rows
from firmware_bridge.store.events import decoded
from tests.makers import hydrogen_line

pytestmark = pytest.mark.timeout(180)
MEMORY_MIB = 64

CSV_HEAD = (
    "time,outlet_conductivity_uS_cm,outlet_temperature_C,inlet_conductivity_uS_cm,"
    "inlet_temperature_C,flow_pulses\n"
)
CSV = (CSV_HEAD + "2024-08-16T08:30:00Z,412.1,17.4,557.8,15.0,12\n" * 3).encode()
NOTES = json.dumps(
    {
        "medium": "hydrogen",
        "capacity_basis": "carbonate_hardness",
        "rated_capacity_dH_litres": 3600,
        "bypass_setpoint": 0.3,
        "k_factor_pulses_per_litre": 1000,
        "install_date": "2024-08-16T08:30:00Z",
        "utc_offset_hours": 1,
        "layout": "outlet",
    }
).encode()
TOML = (
    b'[site]\nid = "a"\nname = "b"\n[[line]]\nid = "bar"\nmedium = "hydrogen"\ncapacity = "9 eq"\n'
)


class Parsing(msgspec.Struct, frozen=True):
    """One parser: its name, what it does with bytes, and good examples."""

    name: str
    parse: Callable[[bytes], Any]
    examples: tuple[bytes, ...]


def in_a_file(read: Callable[[Path], Any], name: str) -> Callable[[bytes], Any]:
    """A parser of files, given the bytes of one."""

    def parse_file(data: bytes) -> Any:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / name
            path.write_bytes(data)
            path.chmod(0o600)
            return read(path)

    return parse_file


def rows_of_recording(path: Path) -> int:
    """All rows of a recording."""
    recording = open_recording(path)
    assert recording.raw is not None
    with recording.raw:
        return sum(len(rows) for rows in read_rows(recording))


def frames_of(data: bytes) -> int:
    """Frames found, whatever the chunks."""
    parser = Parser()
    found = sum(len(parser.feed(data[n : n + 7])) for n in range(0, len(data), 7))
    assert parser.counts["frames"] == found
    return found


def headers_of(data: bytes) -> Any:
    """What a proxy says, and the name that a request was sent to."""
    text = data.decode("latin-1")
    said = {"x-forwarded-for": [text], "x-forwarded-proto": [text]}
    rules = Rules(proxies=("10.0.0.5",), by_address=True)
    caller_of(rules, "10.0.0.5", "http", "bar", said)
    caller_of(rules, text, "http", "bar", said)
    taste_of(dict.fromkeys(("units", "lang", "look"), text), Taste())
    assert own_address(text).startswith("/")
    return host_name(text)


def form_of(data: bytes) -> Any:
    """The fields of a form; a refusal is an answer too."""
    try:
        return fields_in(data)
    except Refused:
        return None


def hint_of(parse: Callable[[bytes], Any], data: bytes) -> str:
    """What to do about bytes that are refused; a word for those that are read."""
    try:
        parse(data)
    except LastLitreError as error:
        return error.hint if str(error) else ""
    return "read"


class NoBook:
    """A logbook that takes nothing: the parser alone is fed."""

    async def record(self, act: Any, who: str) -> Any:
        """Refuses."""
        raise LastLitreError("refused", "This is a test.")

    async def undo(self, event_id: str, who: str, reason: str = "") -> Any:
        """Refuses."""
        raise LastLitreError("refused", "This is a test.")


def hatch_of(data: bytes) -> Any:
    """The hatch's answer to a line."""
    answer = asyncio.run(answered(NoBook(), data))  # type: ignore[arg-type]
    assert answer.trouble
    assert answer.hint
    return None


def message_of(data: bytes) -> Any:
    """A message from the receiver, read as each kind there is."""
    for kind in (payloads.Durable, payloads.Wanted, payloads.Batch, payloads.Card):
        try:
            return msgspec.json.decode(data, type=kind)
        except (ValueError, RecursionError):  # what the sink counts
            continue
    return None


STATE = to_bytes(start(hydrogen_line(), 1))
EVENT = '{"kind":"note","at_ms":1,"event_id":"a","note":"x"}'
ACT = b'{"who":"Ada","act":{"kind":"drop-test","at_ms":1,"point":"raw"}}\n'
PARSERS = (
    Parsing("frames", frames_of, (b"\x03\x01\x02\x00", bytes(range(256)))),
    Parsing("recording", in_a_file(rows_of_recording, "a.csv"), (CSV,)),
    Parsing("packed recording", in_a_file(rows_of_recording, "a.csv.gz"), (gzip.compress(CSV),)),
    Parsing("notes", in_a_file(from_notes, "site.json"), (NOTES,)),
    Parsing("site file", lambda data: parse(data, "a.toml"), (TOML,)),
    Parsing("compiled site", lambda data: _or_ours(unpack, data), (b"\x81\xa6faults\x90",)),
    Parsing("snapshot", lambda data: from_bytes(data, LineState), (STATE,)),
    Parsing("rows of a block", unpack_rows, (b"\x94\x01\x00\x90\x90abcd",)),
    Parsing("event", lambda data: decoded(data.decode("utf-8", "replace")), (EVENT.encode(),)),
    Parsing("people", in_a_file(lambda p: People(p).all(), "a.people"),
            (b'{"version":1,"people":[{"name":"Ada","key":{"salt":"","key":""}}]}',)),
    Parsing("form", form_of, (b"form=a&name=Ada&password=%C3%A9",)),
    Parsing("headers", headers_of, (b"10.0.0.9, 10.0.0.5", b"[::1]:80", b"bar.lan:8420", b"https")),
    Parsing("hatch", hatch_of, (ACT, b'{"who":"Ada","undo":"x"}')),
    Parsing("receiver's message", message_of, (b'{"schema":1,"up_to":5}',)),
    Parsing("text for the log", lambda data: redact(data.decode("latin-1")), (b'token = "x"',)),
)  # fmt: skip

WHOLE = ("recording", "packed recording", "notes", "site file", "snapshot", "event", "people",
         "form", "headers", "hatch")  # fmt: skip
"""Those whose first example is well-formed."""


def _or_ours(read: Callable[[bytes], Any], data: bytes) -> Any:
    """What is only ever read from our own cache: a damaged one is an error it is known for."""
    try:
        return read(data)
    except (msgspec.MsgspecError, RecursionError):
        return None


def nearly(examples: tuple[bytes, ...]) -> st.SearchStrategy[bytes]:
    """Examples cut, doubled, with a stretch exchanged."""

    def changed(example: bytes, at: float, stretch: bytes, cut: int) -> bytes:
        place = int(at * len(example))
        return example[:place] + stretch + example[place + cut :]

    return st.builds(
        changed,
        st.sampled_from([*examples, *(e * 3 for e in examples)]),
        st.floats(0, 1),
        st.binary(max_size=12),
        st.integers(0, 40),
    )


@pytest.mark.parametrize("parsing", PARSERS, ids=lambda p: p.name)
def test_anything_is_an_answer_or_an_error_with_a_hint(parsing: Parsing) -> None:
    """Random bytes, and bytes that are nearly right."""

    @settings(max_examples=40)
    @given(st.one_of(st.binary(max_size=600), nearly(parsing.examples)))
    def holds(data: bytes) -> None:
        assert hint_of(parsing.parse, data)

    holds()


@pytest.mark.parametrize("parsing", [p for p in PARSERS if p.name in WHOLE], ids=lambda p: p.name)
def test_examples_are_read(parsing: Parsing) -> None:
    """The first example is no error, so that what is nearly right begins from right."""
    assert hint_of(parsing.parse, parsing.examples[0]) == "read"


@pytest.mark.parametrize("parsing", PARSERS, ids=lambda p: p.name)
def test_much_of_anything_takes_little_memory(parsing: Parsing) -> None:
    """300 kB of one piece: nested, endless, or a number without end."""
    tracemalloc.start()
    for piece in (b"\0", b"[", b"a=", b'{"a":', b"\x81\xa1a", b"9"):
        assert hint_of(parsing.parse, piece * (300_000 // len(piece)))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < MEMORY_MIB * 1024 * 1024


def test_a_packed_recording_that_swells_is_read_in_pieces() -> None:
    """70 MB packed into 70 kB are not held at once."""
    packed = io.BytesIO()
    with gzip.GzipFile(fileobj=packed, mode="wb", compresslevel=9) as out:
        out.write(CSV_HEAD.encode())
        for _ in range(70):
            out.write(b"9" * 1_000_000)
    tracemalloc.start()
    assert hint_of(in_a_file(rows_of_recording, "a.csv.gz"), packed.getvalue())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < MEMORY_MIB * 1024 * 1024


def test_numbers_of_a_block_hold() -> None:
    """With instants that do not belong to them."""
    import numpy as np

    @settings(max_examples=40)
    @given(st.binary(max_size=300), st.integers(0, 5))
    def holds(data: bytes, count: int) -> None:
        with pytest.raises(LastLitreError) as caught:
            unpack_numbers(data, np.arange(count, dtype=np.int64))
        assert caught.value.hint

    holds()


def test_site_file_of_any_bytes_is_refused_by_the_loader(tmp_path: Path) -> None:
    """The way a command goes, with its child process."""
    path = tmp_path / "site.toml"
    for data in (b"", b"\xff\xfe", b"[" * 5000, b"a = " + b"9" * 5000):
        path.write_bytes(data)
        with pytest.raises(LastLitreError) as caught:
            load(path, tmp_path / "cache")
        assert caught.value.hint


def test_local_time_takes_any_instant() -> None:
    """Also those far outside its table."""
    local = LocalTime(from_ms=(0, 10), offset_s=(0, 3600))

    assert [local.offset_ms(at) for at in (-(1 << 60), 5, 1 << 60)] == [0, 0, 3_600_000]
