"""Sending everything twice, for far sides that never say when a row is safe.

A time-series store that answers "taken" may still lose its last seconds when it is killed (some
keep up to ten of them in memory only). So a span is done with when it was sent a second time, the
same to the letter, a minute or more after the first success. Where the far side could not be
reached between the two, it may have been killed: the second time then counts as a first. So it does
where the connection was a new one the second time, but only once: some servers end every connection
after a minute or two. Instants are seconds of any clock that never goes back.
"""

from __future__ import annotations

import msgspec

from firmware_bridge.forward.sink import Heard, Span


class _Waiting(msgspec.Struct, frozen=True):
    span: Span
    due_s: float
    doubtful: bool = False
    renewed: bool = False


class Twice:
    """The spans that were sent once, oldest first, and up to where all were sent twice."""

    def __init__(self, after_s: float) -> None:
        self._after_s = after_s
        self._waiting: tuple[_Waiting, ...] = ()
        self._sent = 0
        self._done: int | None = None

    def sent(self, span: Span, again: bool, now_s: float) -> None:
        """The far side took a span; again: the beginning of the span that was due."""
        if again and self._waiting:
            self._repeated(span, now_s)
        else:
            self._sent = span.up_to
            self._waiting = (*self._waiting, _Waiting(span, now_s + self._after_s))

    def unreachable(self) -> None:
        """The far side did not answer: what it took so far may be lost with it."""
        self._waiting = tuple(msgspec.structs.replace(w, doubtful=True) for w in self._waiting)

    def reconnected(self) -> None:
        """The far side had to be connected to anew: it may have been killed and started again."""
        self._waiting = tuple(
            w if w.renewed else msgspec.structs.replace(w, doubtful=True) for w in self._waiting
        )

    def heard(self, now_s: float) -> Heard:
        """How things stand."""
        due = bool(self._waiting) and self._waiting[0].due_s <= now_s
        return Heard(durable_up_to=self._done, again=self._waiting[0].span if due else None)

    def _repeated(self, sent: Span, now_s: float) -> None:
        first, rest = self._waiting[0], self._waiting[1:]
        end = min(sent.up_to, first.span.up_to)
        if end < first.span.up_to:
            rest = (msgspec.structs.replace(first, span=Span(end, first.span.up_to)), *rest)
        if first.doubtful:
            once = _Waiting(Span(first.span.after, end), now_s + self._after_s, renewed=True)
            rest = (*rest, once)
        self._waiting = rest
        # all before the first number that still waits for its second time
        self._done = min((w.span.after for w in self._waiting), default=self._sent)
