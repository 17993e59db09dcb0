"""How long one life of a bed takes, and the curves of every shape a bed may have."""

from __future__ import annotations

import time

from analytics.chemistry.water import Water, water
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media

CHALK: Water = water(
    ca=2.75, mg=0.2, na=0.6, k=0.1, cl=0.8, so4=0.3, no3=0.4, alkalinity=4.8, dic=5.2
)


def run() -> dict[str, float]:
    """Seconds of one life and of a family, for each exchange medium."""
    found: dict[str, float] = {}
    for medium in media().values():
        if isinstance(medium, ExchangeMedium):
            medium.curves(CHALK)
            start = time.perf_counter()
            medium.curves(CHALK)
            lived = time.perf_counter()
            medium.family(CHALK, bypass=0.2)
            found[f"{medium.name} life"] = lived - start
            found[f"{medium.name} family"] = time.perf_counter() - lived
    return found


if __name__ == "__main__":
    for name, seconds in run().items():
        print(f"{name:20s} {seconds:6.3f} s")
