"""Several workers on the same records at the same moment: each row once, no number skipped."""

from __future__ import annotations

import random
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.fleet.records.tables import aside, held, lines
from firmware_bridge.receiver.words import Incoming
from tests.firmware_bridge.fleet.sites_speak import PREFIX, all_of, card, gone, kept, said
from tests.firmware_bridge.forward.outbox import START_MS, readings, row

SITES = ("harbour-steps", "mill-lane", "old-quay")


def all_said(last: int = 300) -> list[Incoming]:
    """What three sites say: readings, estimates, an alarm, numbers that are gone; all twice."""
    coming: list[Incoming] = []
    for site in SITES:
        coming += card(site)
        coming += said(readings(1, last), site)
        coming += said([row(last + 1, "estimate", days_left_p50=3.0)], site)
        coming += said([row(last + 2, "alarm", {"alarm": "leak", "state": "acknowledged"})], site)
        coming += gone((last + 3, last + 9), site=site)
    return coming * 2


def work(records: Records, messages: Sequence[Incoming]) -> None:
    """One worker's share, a few messages at a time."""
    keeper = Keeper(records, PREFIX, adopt_newcomers=True)
    for start in range(0, len(messages), 4):
        keeper.take(messages[start : start + 4], START_MS)


def test_workers_at_the_same_moment_keep_each_row_once(records: Records) -> None:
    """Three threads share what comes, doubled, in any order; in the end all is held."""
    coming = all_said()
    random.Random(8).shuffle(coming)
    with ThreadPoolExecutor(3) as workers:
        shares = [workers.submit(work, records, coming[share::3]) for share in range(3)]
    for share in shares:
        share.result()

    for site in SITES:
        assert sorted(kept(records, site)) == list(range(1, 303))
    assert {h["up_to"] for h in all_of(records, held)} == {309}
    assert {h["spans"] for h in all_of(records, held)} == {"[[1,309]]"}
    assert all_of(records, aside) == []
    assert len(all_of(records, lines)) == len(SITES)


@settings(max_examples=15)
@given(st.data())
def test_any_cut_into_steps_gives_the_same_records(data: st.DataObject) -> None:
    """Whatever comes together in a step, doubled or not, what is kept and shown is the same."""
    coming = data.draw(st.permutations(all_said(130)[::2] + said(readings(60, 130), SITES[0])))
    cuts = data.draw(st.lists(st.integers(1, len(coming)), max_size=6))
    edges = sorted({0, *cuts, len(coming)})
    with open_records("sqlite://") as records:
        keeper = Keeper(records, PREFIX, adopt_newcomers=True)
        whole = Keeper(records, PREFIX, adopt_newcomers=True)
        for first, last in pairwise(edges):
            keeper.take(coming[first:last], START_MS)
        whole.take(all_said(130), START_MS)

        for site in SITES:
            assert sorted(kept(records, site)) == list(range(1, 133))
        assert {h["spans"] for h in all_of(records, held)} == {"[[1,139]]"}
        assert {(n["reading_seq"], n["days_left_p50"]) for n in all_of(records, lines)} == {
            (130, 3.0)
        }
        assert all_of(records, aside) == []
