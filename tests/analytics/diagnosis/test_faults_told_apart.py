"""Faults of the field are told apart on simulated stretches, and healthy ones are left alone."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analytics.diagnosis.faults import ALIKE, FAULTS
from analytics.pipeline import Block, advance, start
from analytics.samples import DAY_MS
from analytics.snapshot import from_bytes, to_bytes
from analytics.watch import Watch
from tests.faulty.stretch import Stretch, stretch

WORDS = {"failure", "function-check", "out-of-specification", "maintenance-required"}


def watched(it: Stretch, ends: list[int]) -> Watch:
    """The watch after blocks that end at these instants, its state reloaded between them."""
    state, begun = start(it.line, 1), 0
    for at, before in zip(ends, [0, *ends[:-1]], strict=True):
        upto = int(np.searchsorted(it.rows.at_ms, at, side="right"))
        due = tuple(e for e in it.events if before < e.at_ms <= at)
        block = Block(end_ms=at, rows=it.rows.cut(begun, upto), events=due)
        state = advance(it.line, it.local, 1, state, block).state
        watch = from_bytes(to_bytes(state.watch), Watch)
        assert watch is not None
        state, begun = msgspec.structs.replace(state, watch=watch), upto
    return state.watch


@pytest.mark.timeout(600)
def test_findings_do_not_hang_on_how_rows_are_cut() -> None:
    """Whole days or odd pieces, reloaded from their bytes between: the same to the last bit."""
    it = stretch(0, 4, "pulses-doubled")
    rng = np.random.default_rng(1)
    until = it.fault_ms + 4 * DAY_MS
    days = [it.begin_ms + day * DAY_MS for day in range(1, 12)]
    odd = sorted(rng.integers(it.begin_ms + 1, until, 60).tolist())

    plain, cut = watched(it, [*days, until]), watched(it, [*odd, until])

    assert plain.diagnosis == cut.diagnosis
    assert plain.diagnosis.findings


@pytest.mark.timeout(600)
def test_a_finding_says_which_meter_and_since_when() -> None:
    """Doubled counts are the flow meter's, since the day they began."""
    it = stretch(0, 6, "pulses-doubled")
    watch = watched(it, [it.fault_ms + 4 * DAY_MS])
    doubled = [f for f in watch.diagnosis.findings if f.code == "pulses-doubled"]

    assert [f.which for f in doubled] == ["flow"]
    assert abs(doubled[0].since_ms - it.fault_ms) < 2 * DAY_MS
    assert doubled[0].confidence > 0.5


@pytest.mark.parametrize("code", FAULTS)
def test_every_fault_has_a_word_of_ne_107_and_an_effect(code: str) -> None:
    """Failure, function check, out of specification or maintenance required."""
    fault = FAULTS[code]

    assert fault.word in WORDS
    assert fault.effect in {"ignored", "widened", "held", "counted"}


def test_at_most_three_pairs_may_be_taken_for_each_other() -> None:
    """Each with its reason."""
    assert len(ALIKE) <= 3
    assert all(reason.endswith(".") for _, _, reason in ALIKE)
