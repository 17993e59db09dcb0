"""Water takes many ways through a bed, some faster: what that makes of its front.

Streams side by side, each a column of its own, differ in velocity v by a lognormal spread.
Constant velocity ratios mean that every stream lives the same life at its own pace, so that the
mixed effluent at throughput t is  sum(flow share * effluent(t v)).
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.column.life import Life
from analytics.samples import Floats

STREAMS: Final = 31
WIDEST: Final = 2.1
"""Streams reach this many standard deviations to each side: no way through a packed bed is much
faster than the others (common practice, no source)."""


def streams(spread: float) -> tuple[Floats, Floats]:
    """Velocities (flow-weighted mean 1 over the bed) and flow shares for a spread of ln v."""
    places = np.linspace(-WIDEST, WIDEST, STREAMS)
    bed_share = np.exp(-0.5 * places * places)
    bed_share = bed_share / bed_share.sum()
    places = places / np.sqrt(bed_share @ places**2)  # cut off, they would spread less
    speed = np.exp(spread * places)
    speed = speed / (bed_share * speed).sum()
    return speed, bed_share * speed


def mixed(life: Life, spread: float) -> Life:
    """The life of a bed whose streams have this spread (standard deviation of ln velocity)."""
    if spread <= 0.0:
        return life
    count = len(life.fed)
    parcel = np.arange(count) + 0.5
    speed, share = streams(spread)
    weights = np.zeros((count, count))
    for v, f in zip(speed, share, strict=True):
        place = np.clip(parcel * v - 0.5, 0.0, count - 1.0)
        low = np.minimum(place.astype(np.int64), count - 2)
        part = place - low
        np.add.at(weights, (np.arange(count), low), f * (1.0 - part))
        np.add.at(weights, (np.arange(count), low + 1), f * part)
    cations = np.tensordot(weights, life.cations, axes=1)
    return msgspec.structs.replace(life, cations=cations)
