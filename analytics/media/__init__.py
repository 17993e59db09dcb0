"""One file a medium family; each defines MEDIUM, a `medium.Medium`, named as its file is."""

from __future__ import annotations

import pkgutil
from functools import cache
from typing import TYPE_CHECKING

from analytics.registry import discover

if TYPE_CHECKING:
    from analytics.medium import Medium


@cache
def names() -> tuple[str, ...]:
    """Names of all families, without loading any."""
    return tuple(sorted(module.name for module in pkgutil.iter_modules(__path__)))


@cache
def media() -> dict[str, Medium]:
    """Every family by name."""
    from analytics.medium import Medium

    return discover(__name__, "MEDIUM", Medium)
