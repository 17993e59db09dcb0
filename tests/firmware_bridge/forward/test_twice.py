"""Rows to a store that never says what is safe are sent twice."""

from __future__ import annotations

from firmware_bridge.forward.sink import Heard, Span
from firmware_bridge.forward.twice import Twice


def test_second_time_is_due_a_minute_after_the_first_and_settles() -> None:
    """A span is done with once it was sent again, not before."""
    twice = Twice(60.0)
    twice.sent(Span(0, 100), again=False, now_s=0.0)
    twice.sent(Span(100, 150), again=False, now_s=30.0)

    assert twice.heard(59.9) == Heard()
    assert twice.heard(60.0) == Heard(again=Span(0, 100))
    twice.sent(Span(0, 100), again=True, now_s=61.0)
    assert twice.heard(89.0) == Heard(durable_up_to=100)
    assert twice.heard(90.0) == Heard(durable_up_to=100, again=Span(100, 150))


def test_span_may_be_repeated_in_parts() -> None:
    """What was repeated of a span is done with; the rest stays due."""
    twice = Twice(60.0)
    twice.sent(Span(0, 100), again=False, now_s=0.0)
    twice.sent(Span(0, 40), again=True, now_s=60.0)

    assert twice.heard(60.0) == Heard(durable_up_to=40, again=Span(40, 100))


def test_store_lost_in_between_makes_the_second_time_a_first() -> None:
    """A store that could not be reached may have lost its memory: a minute begins anew."""
    twice = Twice(60.0)
    twice.sent(Span(0, 100), again=False, now_s=0.0)
    twice.unreachable()
    twice.sent(Span(100, 120), again=False, now_s=50.0)
    twice.sent(Span(0, 100), again=True, now_s=70.0)

    assert twice.heard(70.0) == Heard(durable_up_to=0)
    assert twice.heard(110.0).again == Span(100, 120)
    twice.sent(Span(100, 120), again=True, now_s=111.0)
    assert twice.heard(130.0) == Heard(durable_up_to=0, again=Span(0, 100))
    twice.sent(Span(0, 100), again=True, now_s=131.0)
    assert twice.heard(131.0) == Heard(durable_up_to=120)


def test_new_connection_makes_the_second_time_a_first_once() -> None:
    """A store connected to anew may be another process; but some servers end every connection."""
    twice = Twice(60.0)
    twice.sent(Span(0, 100), again=False, now_s=0.0)
    twice.reconnected()
    twice.sent(Span(0, 100), again=True, now_s=60.0)
    assert twice.heard(60.0) == Heard(durable_up_to=0)
    twice.reconnected()
    twice.sent(Span(0, 100), again=True, now_s=120.0)

    assert twice.heard(120.0) == Heard(durable_up_to=100)
