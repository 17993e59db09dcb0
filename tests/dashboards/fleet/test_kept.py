"""Answers kept for a moment: none outlives an act, an old one only bridges a making."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

from dashboards.fleet.kept import MOST, Kept
from firmware_bridge.fleet.records.sight import Connection
from tests.dashboards.fleet.stocked import Stock


class Counting:
    """Answers with how often it was asked."""

    def __init__(self) -> None:
        self.count = 0
        self.go = threading.Event()
        self.go.set()

    def __call__(self, connection: Connection) -> int:
        """One more; waits until it may."""
        assert self.go.wait(20)
        self.count += 1
        return self.count


def test_answer_is_kept_for_its_time_and_no_longer(fleet: Stock) -> None:
    """By the clock that was given."""
    kept, make = Kept(fleet.records, lambda: fleet.now_ms), Counting()
    first = [kept.get("x", make, 1000), kept.get("x", make, 1000)]
    fleet.now_ms += 1000

    assert first == [1, 1]
    assert kept.get("x", make, 1000) == 2
    assert kept.get("y", make, 1000) == 3


def test_act_makes_everything_old_at_once(fleet: Stock) -> None:
    """Also for an answer that was being made when the act was done."""
    kept, make = Kept(fleet.records, lambda: fleet.now_ms), Counting()

    def meanwhile(connection: Connection) -> int:
        kept.forget()
        return make(connection)

    kept.get("x", meanwhile, 1000)

    assert kept.get("x", make, 1000) == 2


def test_many_who_ask_at_once_wait_for_one_making(fleet: Stock) -> None:
    """The records are asked once."""
    kept, make = Kept(fleet.records, lambda: fleet.now_ms), Counting()
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: kept.get("x", make, 1000), range(32)))

    assert set(found) == {1}


def test_old_answer_bridges_the_making_of_a_newer(fleet: Stock) -> None:
    """Nobody waits for it; the newer one is there when it is made."""
    kept, make = Kept(fleet.records, lambda: fleet.now_ms), Counting()
    kept.get("x", make, 1000, 60_000)
    kept.forget()
    make.go.clear()
    bridged = [kept.get("x", make, 1000, 60_000) for _ in range(3)]
    make.go.set()
    for thread in threading.enumerate():
        if thread.daemon and thread.name.startswith("Thread-"):
            thread.join(20)

    assert bridged == [1, 1, 1]
    assert kept.get("x", make, 1000, 60_000) == 2


def test_no_more_is_kept_than_so_much(fleet: Stock) -> None:
    """Whoever asks for ever new things costs time, not memory."""
    kept, make = Kept(fleet.records, lambda: fleet.now_ms), Counting()
    for number in range(MOST + 5):
        kept.get(number, make, 1000)
    again = kept.get(0, make, 1000)

    assert again == MOST + 6
    assert kept.get(MOST + 4, make, 1000) == MOST + 5
