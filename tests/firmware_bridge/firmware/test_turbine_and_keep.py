"""Turbine interrupts and what outlives a reset, a power cut, a torn write."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware.keep import SETTINGS, Keep
from firmware_bridge.firmware.slots import TwoCopies
from firmware_bridge.firmware.turbine import MASK, Turbine, Turbines

WRAP = 2**30


class Ticks:
    """A clock of a board, which wraps at 2^30 microseconds."""

    def __init__(self, us: int = 0) -> None:
        self.us = us

    def now(self) -> int:
        """As the board gives it."""
        return self.us % WRAP

    @staticmethod
    def diff(one: int, other: int) -> int:
        """As the board reckons it: right up to half a wrap."""
        return (one - other + WRAP // 2) % WRAP - WRAP // 2


@pytest.mark.parametrize("start_us", [0, WRAP - 5_000])
def test_bounces_are_one_pulse(start_us: int) -> None:
    """Edges 50 us apart are one pulse; edges a millisecond apart are pulses, over the wrap too."""
    ticks = Ticks(start_us)
    turbine = Turbine(ticks.now, ticks.diff, 200)
    for _ in range(20):
        for _ in range(3):
            turbine.pulse()
            ticks.us += 50
        ticks.us += 850

    assert turbine.count == 20


def test_the_first_pulse_after_a_long_pause_counts() -> None:
    """Ten minutes still, longer than half a wrap of the clock: the next pulse is not a bounce."""
    ticks = Ticks()
    turbine = Turbine(ticks.now, ticks.diff, 200)
    turbines = Turbines(turbine)
    turbine.pulse()
    for _ in range(600):
        turbines.count(0)
        ticks.us += 1_000_000
    turbine.pulse()

    assert turbines.count(0) == 2
    assert turbines.count(1) == 0


def test_the_interrupt_count_wraps_as_its_mask_says() -> None:
    """After 2^30 pulses the count goes on from 0."""
    turbine = Turbine(Ticks().now, Ticks.diff, 0)
    turbine.count = MASK

    turbine.pulse()

    assert turbine.count == 0


@given(st.lists(st.binary(max_size=90), min_size=1, max_size=6), st.data())
def test_a_torn_write_leaves_the_copy_before(
    tmp_path_factory: pytest.TempPathFactory, saved: list[bytes], data: st.DataObject
) -> None:
    """However far the last write came, what is loaded is the last one or the one before."""
    path = tmp_path_factory.mktemp("keep") / "keep"
    memory = TwoCopies(str(path))
    memory.load()
    for one in saved:
        memory.save(one)
    newest = Path(f"{path}.{(len(saved) - 1) % 2}")
    whole = newest.read_bytes()
    cut = data.draw(st.integers(0, len(whole)), label="cut")
    newest.write_bytes(whole[:cut])

    found = TwoCopies(str(path)).load()

    before = saved[-2] if len(saved) > 1 else b""
    assert found == (saved[-1] if cut == len(whole) else before)


def test_after_a_torn_write_the_next_save_is_the_newest(tmp_path: Path) -> None:
    """The damaged copy is the one that is written over."""
    path = str(tmp_path / "keep")
    memory = TwoCopies(path)
    for one in (b"first", b"second"):
        memory.save(one)
    (tmp_path / "keep.1").write_bytes(b"sec")
    again = TwoCopies(path)
    again.load()
    again.save(b"third")

    assert TwoCopies(path).load() == b"third"
    assert (tmp_path / "keep.0").read_bytes()[6:11] == b"first"


def test_the_number_of_a_copy_wraps(tmp_path: Path) -> None:
    """After 2^32 saves the newest is still the newest."""
    path = str(tmp_path / "keep")
    memory = TwoCopies(path)
    memory.number = 2**32 - 2
    for one in (b"a", b"b", b"c"):
        memory.save(one)

        assert TwoCopies(path).load() == one


def test_settings_of_an_older_node_stay(tmp_path: Path) -> None:
    """What a node with fewer settings kept is right for a newer one: counts too."""
    path = str(tmp_path / "keep")
    older = Keep(TwoCopies(path))
    older.counts = [123, 45]
    assert older.change(older.place("heartbeat-ms"), "7000")
    older.settings = older.settings[:4]
    older.save()

    newer = Keep(TwoCopies(path))

    assert not newer.new
    assert newer.counts == [123, 45]
    assert newer.setting("heartbeat-ms") == 7000
    assert newer.settings[4:] == [setting[1] for setting in SETTINGS[4:]]
