"""What a receiver has said about the rows sent to it, and what follows from that.

A broker's answer says that the broker has a message in its memory. Only the receiver's own word
"durable up to N" says that rows are safe, so rows are sent again

- when the receiver asks for them (numbers it misses), not more than a few parcels a request;
- when it has been silent about rows that were sent: after half a minute, then ever more seldom;
- soon after a lost connection or its first word, where it has not confirmed what was sent before.

Sending a row again does no harm: its number tells the receiver that it is the same one.
Instants are seconds of any clock that never goes back.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import msgspec

from firmware_bridge.forward.payloads import VERSION, Durable, Wanted
from firmware_bridge.forward.sink import Heard, Span

_durable = msgspec.json.Decoder(Durable)
_wanted = msgspec.json.Decoder(Wanted)
_Word = TypeVar("_Word", Durable, Wanted)


class Patience(msgspec.Struct, frozen=True, kw_only=True):
    """How long to wait before rows are sent again, in seconds."""

    first_s: float = 30.0
    longest_s: float = 600.0
    reconnected_s: float = 3.0
    request_every_s: float = 2.0
    """Requests that follow another one sooner are passed over; the receiver asks again."""
    parcels_a_request: int = 4


class Confirming:
    """The receiver's last word, and the spans that are to be sent again."""

    def __init__(self, patience: Patience) -> None:
        self._patience = patience
        self._told: int | None = None
        self._sent = 0
        self._again: tuple[Span, ...] = ()
        self._parcels_left = 0
        self._next_request_s = 0.0
        self._wait_s = patience.first_s
        self._check_s = 0.0
        self._unreadable = 0

    def hear(self, name: str, payload: bytes, site_id: str, now_s: float) -> None:
        """A message of the receiver, by the last level of its topic.

        What makes no sense is counted: a broken receiver must not stop the site.
        """
        try:
            if name == "durable":
                self.durable(_ours(_durable.decode(payload), site_id).up_to, now_s)
            else:
                asked = _ours(_wanted.decode(payload), site_id).spans
                self.wanted([Span(f - 1, last) for f, last in asked if 0 < f <= last], now_s)
        except (ValueError, RecursionError):
            self._unreadable += 1

    def sent(self, span: Span, again: bool, now_s: float) -> None:
        """A parcel went out and the broker took it."""
        if again:
            self._repeated(span)
            return
        if self._told is None or self._sent <= self._told:
            self._check_s = now_s + self._wait_s
        self._sent = max(self._sent, span.up_to)

    def durable(self, up_to: int, now_s: float) -> None:
        """The receiver has all up to a number; less than before where its file is an older one."""
        if self._told is not None and up_to < self._told:
            self._sent, self._again = min(self._sent, up_to), ()
        if up_to != self._told:
            self._wait_s = self._patience.first_s
            first = self._told is None
            self._check_s = now_s + (self._patience.reconnected_s if first else self._wait_s)
        self._told = up_to

    def wanted(self, spans: Sequence[Span], now_s: float) -> bool:
        """The receiver asks for numbers it misses; False where it asks too often."""
        if now_s < self._next_request_s:
            return False
        self._next_request_s = now_s + self._patience.request_every_s
        known = (Span(s.after, min(s.up_to, self._sent)) for s in spans)
        self._again = tuple(span for span in known if span.after < span.up_to)
        self._parcels_left = self._patience.parcels_a_request
        return True

    def reconnected(self, now_s: float) -> None:
        """The connection was lost and is there again: what was under way may be lost with it."""
        self._check_s = min(self._check_s, now_s + self._patience.reconnected_s)

    def heard(self, now_s: float) -> Heard:
        """How things stand."""
        if not self._again and self._told is not None and self._sent > self._told:
            self._lose_patience(now_s, self._told)
        return Heard(
            durable_up_to=self._told,
            again=self._again[0] if self._again else None,
            unreadable=self._unreadable,
        )

    def _lose_patience(self, now_s: float, told: int) -> None:
        if now_s < self._check_s:
            return
        self._again = (Span(told, self._sent),)
        self._parcels_left = 0
        self._wait_s = min(self._wait_s * 2, self._patience.longest_s)
        self._check_s = now_s + self._wait_s

    def _repeated(self, span: Span) -> None:
        """Take what was sent again off the list; the end of a request's allowance empties it."""
        left = (Span(max(s.after, span.up_to), s.up_to) for s in self._again)
        self._again = tuple(s for s in left if s.after < s.up_to)
        if self._parcels_left:
            self._parcels_left -= 1
            if not self._parcels_left:
                self._again = ()


def _ours(word: _Word, site_id: str) -> _Word:
    """Raises ValueError where a word is of another version or about another site."""
    if (word.v, word.site) != (VERSION, site_id):
        raise ValueError(f"version {word.v} of site {word.site!r}")
    return word
