"""How many cartridges of each size the next weeks take, as a range.

Each line may need none, one or more: the chance that its cartridge ends in time, that the next one
does too, and so on. The counts of independent lines add up by convolution. What moves all lines
alike (a hot summer, a holiday) is not independent: the sum is made for several paces of use and
mixed, so that the range does not shrink to nothing in a large fleet.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Final

import msgspec
import numpy as np

from analytics.fleet.chances import chances_of_end_by
from analytics.normal import normal_cdf
from analytics.samples import DAY_MS, Floats, Spread

PACE_SD: Final = 0.06
"""Use of a whole fleet against what its habits foretell, relative (common practice, no source)."""
PACES: Final = 11
"""Paces of use that are reckoned with, equally probable."""
NEXT_SD: Final = 0.25
"""How a next cartridge's life differs from this one's, relative (common practice, no source)."""
SMALL: Final = 1e-6
"""Chances below it are not followed further."""
SMALLEST: Final = 1e-13
MOST_CHANGES: Final = 40


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A line that will want a cartridge of this medium and size.

    `ahead` is the range of days from now to its end (in the past where it has ended), None where
    it is not known; `life_days` what a whole cartridge lasts here, None where that is not known.
    """

    medium: str
    size: str
    ahead: Spread | None
    life_days: float | None = None


class PartsNeeded(msgspec.Struct, frozen=True, kw_only=True):
    """Cartridges of one medium and size in the next weeks; `chance[n]` is the chance of n.

    `unknown` lines are not in it: nothing is known of their end.
    """

    medium: str
    size: str
    lines: int
    unknown: int
    count: Spread
    mean: float
    chance: tuple[float, ...]


def needs(lines: Iterable[Wanted], days: float) -> tuple[PartsNeeded, ...]:
    """What the lines take in the next `days`, by medium and size."""
    return needs_and_whole(lines, days)[0]


def needs_and_whole(
    lines: Iterable[Wanted], days: float
) -> tuple[tuple[PartsNeeded, ...], PartsNeeded]:
    """The same, and what they take all together (medium and size blank).

    What moves all lines alike moves all sizes alike, so the whole is summed pace by pace.
    """
    groups: dict[tuple[str, str], list[Wanted]] = {}
    for line in lines:
        groups.setdefault((line.medium, line.size), []).append(line)
    known = {key: [x for x in group if x.ahead is not None] for key, group in groups.items()}
    mixed = {key: np.zeros(1) for key in groups}
    whole = np.zeros(1)
    for pace in paces():
        together = np.ones((1, 1))
        for key, group in known.items():
            counts = summed(counts_of(group, days * pace))
            mixed[key] = _added(mixed[key], counts / PACES)
            together = convolved(together, counts[None, :])
        whole = _added(whole, together[0] / together[0].sum() / PACES)
    everyone = [line for group in groups.values() for line in group]
    found = tuple(_need(*key, groups[key], mixed[key]) for key in sorted(groups))
    return found, _need("", "", everyone, whole)


def counts_of(lines: Sequence[Wanted], days: float) -> Floats:
    """Chances that each line (a row) takes 0, 1, 2 ... cartridges in the next `days`; every line's
    end is known."""
    ahead = [line.ahead for line in lines if line.ahead is not None]
    points = np.array([(a.p05, a.p50, a.p95) for a in ahead]).reshape(-1, 3)
    p05, p50, p95 = points[:, 0], points[:, 1], points[:, 2]
    grid = np.linspace(0.0, max(days, 0.0), max(math.ceil(days), 1) + 1)
    reached = [np.ones(len(points)), chances_of_end_by(p05, p50, p95, grid[-1])]
    life = np.array([line.life_days or np.inf for line in lines])
    again = np.flatnonzero(reached[1] * _next_by(life, grid[-1]) > SMALL)
    if len(again):
        ends = np.diff(
            chances_of_end_by(p05[again, None], p50[again, None], p95[again, None], grid),
            axis=1,
            prepend=0.0,
        )
        following = _next_ends(life[again], grid)
        while len(reached) < MOST_CHANGES and float(reached[-1].max()) > SMALL:
            ends = convolved(ends, following)[:, : len(grid)]
            more = np.zeros(len(points))
            more[again] = ends.sum(axis=1)
            reached.append(np.minimum(more, reached[-1]))
    reached.append(np.zeros(len(points)))
    return np.asarray(-np.diff(np.array(reached), axis=0).T)


def summed(counts: Floats) -> Floats:
    """Chances of the sum of independent counts, a row each."""
    if not len(counts):
        return np.array([1.0])
    while len(counts) > 1:
        if len(counts) % 2:
            nothing = np.zeros((1, counts.shape[1]))
            nothing[0, 0] = 1.0
            counts = np.concatenate((counts, nothing))
        counts = convolved(counts[::2], counts[1::2])
        kept = np.flatnonzero(counts.max(axis=0) > SMALLEST)
        counts = counts[:, : int(kept[-1]) + 1]
    return np.asarray(counts[0] / counts[0].sum())


@cache
def paces() -> tuple[float, ...]:
    """What the fleet may use against what is expected: equally probable factors."""
    z = np.linspace(-6.0, 6.0, 2401)
    shares = (np.arange(PACES) + 0.5) / PACES
    return tuple(np.exp(PACE_SD * np.interp(shares, normal_cdf(z), z)).tolist())


def convolved(one: Floats, other: Floats) -> Floats:
    """Rows of one array convolved with those of another, by way of their spectra."""
    width = one.shape[1] + other.shape[1] - 1
    size = 1 << (width - 1).bit_length()
    spectrum = np.fft.rfft(one, size) * np.fft.rfft(other, size)
    return np.asarray(np.clip(np.fft.irfft(spectrum, size)[:, :width], 0.0, None))


def days_ahead(now_ms: int, p05_ms: float, p50_ms: float, p95_ms: float) -> Spread:
    """A range of instants as days from now."""
    p05, p50, p95 = ((at - now_ms) / DAY_MS for at in (p05_ms, p50_ms, p95_ms))
    return Spread(p05=p05, p50=p50, p95=p95)


def _need(medium: str, size: str, lines: list[Wanted], mixed: Floats) -> PartsNeeded:
    running = np.cumsum(mixed)
    p05, p50, p95 = (float(np.searchsorted(running, q - 1e-9)) for q in (0.05, 0.5, 0.95))
    return PartsNeeded(
        medium=medium,
        size=size,
        lines=len(lines),
        unknown=sum(line.ahead is None for line in lines),
        count=Spread(p05=p05, p50=p50, p95=p95),
        mean=float(mixed @ np.arange(len(mixed))),
        chance=tuple(mixed.tolist()),
    )


def _next_ends(life_days: Floats, grid: Floats) -> Floats:
    """Chance that each line's next cartridge lasts so long, by grid; log-normal about the life."""
    return np.asarray(np.diff(_next_by(life_days[:, None], grid), axis=1, prepend=0.0))


def _next_by(life_days: Floats, days: Floats) -> Floats:
    off = np.log(np.maximum(days, 1e-9)) - np.log(life_days)
    return normal_cdf(np.clip(off / NEXT_SD, -9.0, 9.0))


def _added(one: Floats, other: Floats) -> Floats:
    width = max(len(one), len(other))
    return np.pad(one, (0, width - len(one))) + np.pad(other, (0, width - len(other)))
