"""What a person wishes to be told."""

from __future__ import annotations

import msgspec


class Policy(msgspec.Struct, frozen=True, kw_only=True):
    """What a person wishes to be told. Minutes are those of the local day; quiet hours may run past
    midnight (beyond 1440); equal ends are none. Seconds of 0 and a digest of None switch off."""

    least: str = "medium"
    quiet: tuple[int, int] = (0, 0)
    again_s: float = 0.0
    escalate_s: float = 0.0
    cleared: bool = True
    digest_min: int | None = None
