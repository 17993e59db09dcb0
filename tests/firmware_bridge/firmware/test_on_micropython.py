"""The node's files in a real MicroPython interpreter: the same bytes as under CPython."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import firmware_bridge.firmware
from firmware_bridge.firmware.frames import Parser
from firmware_bridge.firmware.kinds import DATA, HELLO, SELFTEST
from tests.firmware_bridge.firmware.interpreter import (
    NOTHING_SKIPPED,
    ON_NODE,
    ROOT,
    micropython,
    needed,
)
from tests.firmware_bridge.firmware.on_node.play import play

pytestmark = pytest.mark.timeout(180)

FILES = sorted(Path(firmware_bridge.firmware.__file__).parent.rglob("*.py"))

PROBE = st.integers(0, 1)
KEYS = st.sampled_from(
    (
        *(("draw-ms", v) for v in ("1", "200", "10000")),
        *(("sample-ms", v) for v in ("1", "250", "1000")),
        *(("heartbeat-ms", v) for v in ("500", "60000")),
        *(("ec-range", v) for v in ("0", "1", "3", "4")),
        *(("probes", v) for v in ("1", "2")),
        *(("resend-after-ms", v) for v in ("50", "5000")),
        *(("drive-us", v) for v in ("20", "5000", "x")),
        ("node", "3"),
        ("colour", "red"),
    )
)
ACT = st.one_of(
    st.tuples(st.just("turns"), st.integers(1, 40), st.sampled_from((0, 999, 50_000, 1_500_000))),
    st.tuples(st.just("flow"), PROBE, st.integers(0, 60)),
    st.tuples(st.just("cell"), PROBE, st.integers(1, 200_000) | st.just(10**9)),
    st.tuples(
        st.just("adc"),
        st.integers(-300, 300),
        st.integers(0, 2000),
        st.sampled_from((0, 0, 9000)),
    ),
    st.tuples(st.just("warm"), PROBE, st.integers(-55 * 16, 125 * 16)),
    st.tuples(
        st.just("wire"), PROBE, st.sampled_from(("", "absent", "shorted", "noisy", "unpowered"))
    ),
    st.tuples(st.just("hear"), st.binary(max_size=80).map(list)),
    st.builds(lambda pair: ("set", *pair), KEYS),
    st.tuples(
        st.just("ask"),
        st.sampled_from(("confirm", "resend", "test", "hello")),
        st.integers(0, 30),
        st.integers(0, 30),
    ),
    st.tuples(st.sampled_from(("reset", "cut"))),
)
SCRIPT = st.fixed_dictionaries(
    {
        "ticks": st.sampled_from((0, 12345, 0x3FFFFFFF - 2000)),
        "acts": st.lists(ACT, min_size=1, max_size=25),
    }
)


class Player:
    """The interpreter, playing scripts for as long as it is asked."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [micropython(), str(ON_NODE / "play.py"), str(ROOT)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def play(self, script: dict[str, Any]) -> list[list[int]]:
        """What its node says and keeps."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(script) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line.startswith("["):
            pytest.fail(line + self.process.stdout.read())
        found: list[list[int]] = json.loads(line)
        return found


@pytest.fixture(scope="module")
def player() -> Iterator[Player]:
    """One interpreter for all scripts."""
    one = Player()
    yield one
    assert one.process.stdin is not None
    assert one.process.stdout is not None
    one.process.stdin.close()
    one.process.stdout.close()
    assert one.process.wait(20) == 0


@settings(max_examples=400)
@given(script=SCRIPT)
def test_both_interpreters_say_the_same_bytes(player: Player, script: dict[str, Any]) -> None:
    """Whatever flows, fails, is asked or is reset: frames and kept bytes are the same."""
    assert player.play(script) == play(script)


def test_scripts_do_say_something(player: Player) -> None:
    """A script with water gives rows in both interpreters, not two empty answers."""
    acts = [["set", "draw-ms", "1"], *([["flow", 0, 9], ["turns", 9, 200_000]] * 20)]

    said, kept = player.play({"ticks": 0, "acts": acts})

    rows: list[Any] = [f for f in Parser().feed(bytes(said)) if f.kind == DATA]
    assert len(rows) > 20
    assert rows[-1].pulses_1 == 180
    assert len(kept) > 20


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_every_file_compiles_for_a_board(file: Path, tmp_path: Path) -> None:
    """The cross-compiler of MicroPython takes every file that goes on a board."""
    done = subprocess.run(
        [needed("mpy-cross"), str(file), "-o", str(tmp_path / "out.mpy")],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")


def on_micropython(name: str, *arguments: str) -> str:
    """What a script of the folder `on_node` prints in the interpreter."""
    done = subprocess.run(
        [micropython(), str(ON_NODE / name), str(ROOT), *arguments],
        capture_output=True,
        text=True,
        timeout=150,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    return done.stdout


def test_the_interrupt_asks_the_heap_for_nothing() -> None:
    """A thousand pulses are counted while the interpreter's heap is locked."""
    assert on_micropython("locked_heap.py") == "1000\n"


def test_a_day_of_rows_takes_no_more_memory() -> None:
    """What the node holds after the first thousand rows it holds after ten thousand."""
    first, last = map(int, on_micropython("memory_of_a_day.py").split())

    assert first < 110_000
    assert last - first < 2000


def test_the_board_file_drives_its_pins() -> None:
    """The one file that knows a pin, with a stand-in for the chip: it says hello, reads water and
    thermometers, counts pulses over a reset, feeds the watchdog, and lets every pin go."""
    said = json.loads(on_micropython("on_pins.py"))

    assert {HELLO, SELFTEST} <= set(said["kinds"])
    assert said["outlet_ec"] == pytest.approx(1e8 / 1500, rel=0.01)
    assert said["inlet_ec"] == pytest.approx(1e8 / 900, rel=0.01)
    assert said["outlet_temp"] == 25_062
    assert said["pulses"] == [7, 12]
    assert said["driven_at_once"] == 2
    assert said["left_driven"] == []
    assert said["fed"] > 100
    assert said["hard"] is True
    assert said["stopped"] is True


def test_a_missing_interpreter_fails_where_nothing_is_skipped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """CI sets the variable that turns a skip into a failure; without it a developer gets a skip."""
    monkeypatch.setenv(NOTHING_SKIPPED, "1")
    with pytest.raises(pytest.fail.Exception, match="not installed"):
        needed("no-such-interpreter")
    monkeypatch.delenv(NOTHING_SKIPPED)
    with pytest.raises(pytest.skip.Exception):
        needed("no-such-interpreter")

    assert f"export {NOTHING_SKIPPED}=1" in (ROOT / ".ci" / "test").read_text()
