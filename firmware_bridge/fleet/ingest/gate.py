"""Who may speak how much: a site that says far too much is not listened to for a while.

A site that makes up for lost time sends a few hundred messages a second for some minutes at most;
one that goes on above that is broken or means harm. What is dropped here was not confirmed, so a
sound site sends it again.
"""

from __future__ import annotations

import msgspec


class Allowance(msgspec.Struct, frozen=True, kw_only=True):
    """Messages of one site: so many a second, so many at once, and how long it is shut out."""

    a_second: float = 300.0
    at_once: float = 3000.0
    shut_s: float = 60.0


class _Share(msgspec.Struct):
    left: float
    at_s: float
    shut_until_s: float = 0.0


class Gate:
    """One share a site. Instants are seconds of a clock that never goes back."""

    def __init__(self, allowance: Allowance) -> None:
        self._allowance = allowance
        self._shares: dict[str, _Share] = {}
        self._shut: list[str] = []
        self.dropped = 0

    def admits(self, site: str, now_s: float) -> bool:
        """Whether one more message of this site is listened to."""
        share = self._shares.get(site)
        if share is None:
            share = self._shares[site] = _Share(self._allowance.at_once, now_s)
        if share.shut_until_s > now_s:
            self.dropped += 1
            return False
        left = share.left + (now_s - share.at_s) * self._allowance.a_second
        share.left, share.at_s = min(left, self._allowance.at_once) - 1.0, now_s
        if share.left > 0.0:
            return True
        share.left = self._allowance.at_once
        share.shut_until_s = now_s + self._allowance.shut_s
        self._shut.append(site)
        self.dropped += 1
        return False

    def newly_shut(self) -> list[str]:
        """Sites that were shut out since the last call."""
        shut, self._shut = self._shut, []
        return shut

    def sweep(self, now_s: float) -> None:
        """Forget the sites whose share is full again."""
        whole_s = self._allowance.at_once / self._allowance.a_second
        self._shares = {
            site: share
            for site, share in self._shares.items()
            if share.shut_until_s > now_s or share.at_s + whole_s > now_s
        }
