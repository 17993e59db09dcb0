"""What follows from a receiver's words, and from its silence."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.forward.confirming import Confirming, Patience
from firmware_bridge.forward.payloads import durable_message, wanted_message
from firmware_bridge.forward.sink import Heard, Span

PATIENCE = Patience(first_s=30.0, longest_s=100.0, reconnected_s=3.0, request_every_s=2.0)


def sent_up_to(number: int, now_s: float = 0.0) -> Confirming:
    """Rows 1 to `number` were sent, and a receiver has said that it has none."""
    confirming = Confirming(PATIENCE)
    confirming.durable(0, now_s)
    confirming.sent(Span(0, number), again=False, now_s=now_s)
    return confirming


def test_nothing_is_safe_before_the_first_word() -> None:
    """Without a receiver's word rows are neither done with nor sent again."""
    confirming = Confirming(PATIENCE)
    confirming.sent(Span(0, 500), again=False, now_s=0.0)

    assert confirming.heard(1e6) == Heard()


def test_silent_receiver_gets_the_rows_again_ever_more_seldom() -> None:
    """Unconfirmed rows are sent again after half a minute, then after twice as long, capped."""
    confirming = sent_up_to(500)
    due = []
    for second in range(1, 400):
        if span := confirming.heard(float(second)).again:
            due.append(second)
            confirming.sent(span, again=True, now_s=float(second))

    assert due == [30, 90, 190, 290, 390]


def test_progress_is_patience() -> None:
    """While the receiver's number rises nothing is sent twice."""
    confirming = sent_up_to(500)
    for second in range(1, 400):
        confirming.durable(second, float(second))
        assert confirming.heard(float(second)) == Heard(durable_up_to=second)


def test_lost_connection_is_a_reason_to_send_again_soon() -> None:
    """Three seconds after a reconnection rows without a confirmation are sent again."""
    confirming = sent_up_to(500)
    confirming.durable(200, 1.0)
    confirming.reconnected(2.0)

    assert confirming.heard(4.9).again is None
    assert confirming.heard(5.0).again == Span(200, 500)


def test_all_confirmed_is_never_sent_again() -> None:
    """Neither time nor a lost connection repeats rows that are safe."""
    confirming = sent_up_to(500)
    confirming.durable(500, 1.0)
    confirming.reconnected(2.0)

    assert confirming.heard(1e6) == Heard(durable_up_to=500)


def test_request_is_cut_to_what_was_sent() -> None:
    """Numbers that never left cannot be asked for."""
    confirming = sent_up_to(500)
    assert confirming.wanted([Span(10, 20), Span(490, 10**9), Span(600, 700)], 10.0)

    assert confirming.heard(10.0).again == Span(10, 20)
    confirming.sent(Span(10, 20), again=True, now_s=10.0)
    assert confirming.heard(10.0).again == Span(490, 500)
    confirming.sent(Span(490, 500), again=True, now_s=10.0)
    assert confirming.heard(10.0).again is None


def test_requests_are_rate_limited() -> None:
    """A receiver that asks without end gets an answer every two seconds, of few parcels."""
    confirming = sent_up_to(1_000_000)
    parcels = 0
    for tenth in range(100):
        now_s = 1.0 + tenth / 10
        confirming.wanted([Span(0, 1_000_000)], now_s)
        while span := confirming.heard(now_s).again:
            confirming.sent(Span(span.after, span.after + 1000), again=True, now_s=now_s)
            parcels += 1

    assert parcels == 5 * PATIENCE.parcels_a_request


def test_receiver_that_went_back_is_believed() -> None:
    """A lower number than before empties the list: all above it will be sent in order."""
    confirming = sent_up_to(500)
    confirming.durable(400, 1.0)
    confirming.wanted([Span(410, 420)], 2.0)
    confirming.durable(100, 3.0)

    assert confirming.heard(3.0) == Heard(durable_up_to=100)
    assert confirming.heard(1000.0) == Heard(durable_up_to=100)


NUMBERS = st.integers(-5, 2**70) | st.floats() | st.none()
WORDS = st.fixed_dictionaries(
    {"site": st.sampled_from(["s", "t"])},
    optional={"v": NUMBERS, "up_to": NUMBERS, "spans": st.lists(st.lists(NUMBERS, max_size=3))},
).map(lambda word: json.dumps(word).encode())


@given(st.lists(st.tuples(st.sampled_from(["durable", "wanted"]), WORDS | st.binary(max_size=50))))
def test_no_word_breaks_the_sink_or_asks_for_what_was_not_sent(
    words: list[tuple[str, bytes]],
) -> None:
    """Whatever comes on the receiver's topics, only numbers that were sent are sent again."""
    confirming = sent_up_to(500)
    for second, (name, payload) in enumerate(words):
        confirming.hear(name, payload, "s", 10.0 * second)
        heard = confirming.heard(10.0 * second)
        if heard.again is not None:
            assert 0 <= heard.again.after < heard.again.up_to <= 500
        assert heard.durable_up_to is not None
        assert heard.durable_up_to >= 0


def test_good_words_are_understood() -> None:
    """The receiver's own messages come through."""
    confirming = sent_up_to(500)
    confirming.hear("durable", durable_message("s", "p", 40).payload, "s", 1.0)
    confirming.hear("wanted", wanted_message("s", "p", [(60, 70)]).payload, "s", 1.0)

    assert confirming.heard(1.0) == Heard(durable_up_to=40, again=Span(59, 70))
