"""One file a medium family; each defines MEDIUM, a `medium.Medium`."""

from __future__ import annotations

from analytics.medium import Medium
from analytics.registry import discover


def media() -> dict[str, Medium]:
    """Every family by name."""
    return discover("analytics.media", "MEDIUM", Medium)
