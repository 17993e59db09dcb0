"""When to ask a site for numbers it seems to have left out: not at once, and not too often."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from firmware_bridge.receiver.spans import Pair


class GapPace(msgspec.Struct, frozen=True, kw_only=True):
    """How long to wait, in seconds."""

    gap_wait_s: float = 2.0
    """A gap may be filled by what is still on its way; then the site is asked."""
    ask_every_s: float = 5.0


class _Gap(msgspec.Struct, frozen=True):
    """The first gap of a site, when to ask for it, and when the site was asked last."""

    first: Pair
    due_s: float
    asked_s: float


class Gaps:
    """The first gap of every site that has one. Instants are seconds of a clock that never goes
    back."""

    def __init__(self, pace: GapPace) -> None:
        self._pace = pace
        self._gaps: dict[str, _Gap] = {}

    def look(self, site: str, missing: Sequence[Pair], now_s: float) -> bool:
        """Note what a site lacks at this moment; whether it is time to ask for it."""
        gap = self._gaps.get(site)
        if not missing:
            if gap is not None:
                del self._gaps[site]
            return False
        if gap is None or gap.first != missing[0]:
            due_s = now_s + self._pace.gap_wait_s
            asked_s = gap.asked_s if gap else 0.0
            soonest_s = asked_s + self._pace.ask_every_s if gap else 0.0
            self._gaps[site] = _Gap(missing[0], max(due_s, soonest_s), asked_s)
            return False
        if gap.due_s > now_s:
            return False
        self._gaps[site] = _Gap(missing[0], now_s + self._pace.ask_every_s, now_s)
        return True

    def due(self, now_s: float) -> list[str]:
        """Sites whose gap is old enough to be looked at again."""
        return [site for site, gap in self._gaps.items() if gap.due_s <= now_s]

    def forget(self, site: str) -> None:
        """A site is nobody's business any more."""
        self._gaps.pop(site, None)
