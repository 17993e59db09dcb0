"""What a site file needs to know of a medium, asked of the media themselves.

Names are looked up without loading a medium; the rest is asked only where a file is compiled.
"""

from __future__ import annotations

from analytics.setup import CapacityKind


def capacity_kind_of(medium: str) -> CapacityKind:
    """The hardness a medium works on, and so the one its capacity counts if nothing is said."""
    from analytics.media import media

    return media()[medium].capacity_kind or CapacityKind.TOTAL


def takes_up_hardness(medium: str) -> bool:
    """Whether a medium ends by more than litres and months, so that a capacity says something."""
    from analytics.media import media
    from analytics.medium import EndsBy

    return media()[medium].ends_by is not EndsBy.LITRES_AND_MONTHS
