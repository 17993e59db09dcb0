"""How far two places are apart, and how long a van needs for it."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.samples import Floats

EARTH_KM: Final = 6371.0088
"""Mean radius of the Earth (IUGG mean radius R1; Moritz, Geodetic Reference System 1980)."""


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """A point on the Earth, in degrees; south and west are negative."""

    latitude: float
    longitude: float


class Travel(msgspec.Struct, frozen=True, kw_only=True):
    """How a van moves (common practice, no source).

    `detour` is how much longer the road is than the straight line, `park_min` what every stop
    costs besides the way: a parking place and the walk from it.
    """

    km_h: float = 32.0
    detour: float = 1.35
    park_min: float = 6.0


def great_circle_km(here: Place, there: Place) -> float:
    """Shortest way over the Earth as a sphere, by the haversine formula.

    a = sin2(dlat/2) + cos lat1 cos lat2 sin2(dlon/2), d = 2 R asin sqrt a.
    Sinnott, Virtues of the haversine, Sky and Telescope 68 (1984) 159. The Earth is flattened by
    1/298, which leaves an error of up to about 0.5 %.
    """
    return float(distances_km([here], [there])[0, 0])


def distances_km(here: list[Place], there: list[Place]) -> Floats:
    """Great-circle distance of every place of one list to every place of another."""
    lat1 = np.radians([p.latitude for p in here])[:, None]
    lat2 = np.radians([p.latitude for p in there])[None, :]
    lon1 = np.radians([p.longitude for p in here])[:, None]
    lon2 = np.radians([p.longitude for p in there])[None, :]
    half = (
        np.sin((lat2 - lat1) / 2.0) ** 2
        + np.cos(lat1) * np.cos(lat2) * np.sin((lon2 - lon1) / 2.0) ** 2
    )
    return np.asarray(2.0 * EARTH_KM * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def drive_minutes(km: Floats, travel: Travel) -> Floats:
    """Minutes in the van for a straight distance; a way of no length costs none."""
    minutes = 60.0 * travel.detour * km / travel.km_h
    return np.asarray(np.where(km > 0.02, minutes + travel.park_min, minutes))


def middle_of(places: list[Place]) -> Place:
    """The place in the middle, as the mean of unit vectors; raises ValueError for none."""
    if not places:
        raise ValueError("no place has no middle")
    lat = np.radians([p.latitude for p in places])
    lon = np.radians([p.longitude for p in places])
    x = float(np.mean(np.cos(lat) * np.cos(lon)))
    y = float(np.mean(np.cos(lat) * np.sin(lon)))
    z = float(np.mean(np.sin(lat)))
    return Place(
        latitude=math.degrees(math.atan2(z, math.hypot(x, y))),
        longitude=math.degrees(math.atan2(y, x)),
    )
