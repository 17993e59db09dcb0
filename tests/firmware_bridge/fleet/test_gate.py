"""A site that says far too much is shut out for a while; others are not."""

from __future__ import annotations

from firmware_bridge.fleet.ingest.gate import Allowance, Gate

GIVEN = Allowance(a_second=100.0, at_once=500.0, shut_s=60.0)


def admitted(gate: Gate, site: str, messages: int, from_s: float, a_second: float) -> int:
    """How many of so many messages at a steady pace are listened to."""
    return sum(gate.admits(site, from_s + n / a_second) for n in range(messages))


def test_a_backlog_within_the_allowance_is_heard() -> None:
    """A burst, and then the steady pace for as long as it likes."""
    gate = Gate(GIVEN)
    assert admitted(gate, "a", 499, 0.0, 1e6) == 499
    assert admitted(gate, "a", 9000, 1.0, 99.0) == 9000
    assert gate.newly_shut() == []


def test_a_thousand_a_second_are_shut_out_and_others_are_not() -> None:
    """It is told once; after a minute the site gets another chance."""
    gate = Gate(GIVEN)
    heard = admitted(gate, "flood", 10_000, 0.0, 1000.0)
    assert 500 <= heard <= 600
    assert admitted(gate, "calm", 100, 0.0, 10.0) == 100
    assert gate.newly_shut() == ["flood"]
    assert gate.newly_shut() == []
    assert gate.dropped == 10_000 - heard
    assert not gate.admits("flood", 59.0)
    assert gate.admits("flood", 61.0)


def test_sites_that_are_calm_are_forgotten() -> None:
    """What is known of a site goes when its share is full again; a shut one is not let in by it."""
    gate = Gate(GIVEN)
    admitted(gate, "flood", 10_000, 0.0, 1000.0)
    gate.admits("calm", 10.0)
    gate.sweep(20.0)
    assert not gate.admits("flood", 20.5)
