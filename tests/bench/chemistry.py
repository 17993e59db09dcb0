"""Benchmark: composition to EC25, saturation index and pH for 100 000 waters."""

from __future__ import annotations

from time import perf_counter

import numpy as np

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec_us_cm
from analytics.chemistry.saturation import ccpp_mmol_l, si_of
from analytics.chemistry.speciation import speciate
from tests.check_values.tap_waters import random_waters

WATERS = 100_000
BATCH = 1_000


def run() -> dict[str, float]:
    """Seconds for each task; `all_finite` is 1 if every answer was a number."""
    crowd, ph = random_waters(WATERS, seed=1)
    made = with_ph(crowd, ph)
    begun = perf_counter()
    found = speciate(made)
    answers = (ec_us_cm(found), si_of(found), found.ph)
    took = perf_counter() - begun
    begun = perf_counter()
    potential = ccpp_mmol_l(made.at(slice(0, BATCH)), 95.0)
    return {
        "ec25_si_ph_of_100000_waters_s": took,
        "ccpp_95c_of_1000_waters_s": perf_counter() - begun,
        "all_finite": float(all(np.isfinite(a).all() for a in (*answers, potential))),
    }


if __name__ == "__main__":
    for name, value in run().items():
        print(f"{name}: {value:.3f}")
