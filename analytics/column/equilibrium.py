"""One parcel of water and one slice of bed come to equilibrium.

Unknowns are u = ln s, where s is the activity of free site, and, for a weak-acid exchanger,
v = ln h with h the hydrogen ion. Ion i of charge z and total amount T (water and beads) has

    beta_i = K_i c_i s^z            equivalent share of the sites (Gaines-Thomas)
    c_i    = T_i / (1 + q K_i s^z / z)   what stays dissolved, q = sites, meq per litre of parcel

and the two conditions are  sum(beta) + beta_H = 1  and  alkalinity(h) = charge of the dissolved
cations less the strong anions. Both are monotone in u and v with a determinant that never
changes sign, so damped Newton steps meet one root; where they are slow, bisection ends it.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.column.carbonate import alkalinity
from analytics.column.exchanger import VALENCE, Sites
from analytics.samples import Floats

CLOSE: Final = 1e-9
"""Steps in ln s and ln h smaller than this end the search."""
STEPS: Final = 24
BISECTIONS: Final = 90
LONGEST_STEP: Final = 2.0


class Parcel(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What is in one parcel and its slice of bed together, per litre of parcel.

    `total[i]` mmol of each ion of `HELD`; `capacity_meq` sites; strong anions, inorganic carbon
    and the activity coefficient of singly charged ions belong to the water.
    """

    total: Floats
    capacity_meq: Floats
    strong_anions_meq: Floats
    dic_mmol: Floats
    gamma: Floats


class Balance(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Where a parcel and its slice of bed came to rest."""

    dissolved: Floats
    log_site: Floats
    log_h: Floats


def settle(sites: Sites, parcel: Parcel, log_site: Floats, log_h: Floats) -> Balance:
    """Equilibrium, searched from these values of ln s and ln h (those of the parcel before)."""
    if sites.weak:
        return _settle_weak(sites, parcel, log_site, log_h)
    return _settle_strong(sites, parcel, log_site, log_h)


def _shares(sites: Sites, parcel: Parcel, log_site: Floats) -> tuple[Floats, Floats, Floats]:
    """Dissolved amounts, the sites' share held by each cation, and q K s^z / z, at ln s."""
    site = np.exp(log_site)
    pull = sites.binding * np.stack((site * site, site * site, site, site))
    ratio = parcel.capacity_meq * pull / _valence(pull)
    dissolved = parcel.total / (1.0 + ratio)
    return dissolved, pull * dissolved, ratio


def _valence(like: Floats) -> Floats:
    return VALENCE.reshape((4,) + (1,) * (like.ndim - 1))


def _settle_strong(sites: Sites, parcel: Parcel, log_site: Floats, log_h: Floats) -> Balance:
    dissolved = parcel.total
    for _ in range(STEPS):
        dissolved, held, ratio = _shares(sites, parcel, log_site)
        covered = held.sum(axis=0)
        slope = (held * _valence(held) / (1.0 + ratio)).sum(axis=0)
        step = np.clip(-np.log(covered) * covered / slope, -LONGEST_STEP, LONGEST_STEP)
        log_site = log_site + step
        if np.abs(step).max() < CLOSE:
            break
    else:
        log_site = _bisect(sites, parcel, log_site.shape)[0]
    dissolved = _shares(sites, parcel, log_site)[0]
    return Balance(dissolved=dissolved, log_site=log_site, log_h=log_h)


def _settle_weak(sites: Sites, parcel: Parcel, log_site: Floats, log_h: Floats) -> Balance:
    for _ in range(STEPS):
        step_site, step_h = _newton(sites, parcel, log_site, log_h)
        longest = np.maximum(np.abs(step_site), np.abs(step_h))
        damping = LONGEST_STEP / np.maximum(longest, LONGEST_STEP)
        log_site = log_site + step_site * damping
        log_h = log_h + step_h * damping
        if longest.max() < CLOSE:
            break
    else:
        log_site, log_h = _bisect(sites, parcel, log_site.shape)
    dissolved = _shares(sites, parcel, log_site)[0]
    return Balance(dissolved=dissolved, log_site=log_site, log_h=log_h)


def _hydrogen_pull(sites: Sites, covered: Floats) -> Floats:
    """Binding of hydrogen with this share of the sites covered by other cations."""
    pull: Floats = sites.h_binding * np.exp(sites.h_spread * (np.clip(covered, 0.0, 1.0) - 0.5))
    return pull


def _newton(sites: Sites, parcel: Parcel, log_site: Floats, log_h: Floats) -> tuple[Floats, Floats]:
    """Newton step in ln s and ln h."""
    dissolved, held, ratio = _shares(sites, parcel, log_site)
    valence = _valence(held)
    covered = held.sum(axis=0)
    covered_slope = (held * valence / (1.0 + ratio)).sum(axis=0)
    hydrogen = _hydrogen_pull(sites, covered) * np.exp(log_h + log_site)
    stiffness = np.where(covered < 1.0, sites.h_spread * covered_slope, 0.0)
    full = covered + hydrogen
    f1, f1_u = np.log(full), (covered_slope + hydrogen * (1.0 + stiffness)) / full
    f1_v = hydrogen / full
    found, found_slope = alkalinity(np.exp(log_h), parcel.dic_mmol, parcel.gamma)
    f2 = found - (valence * dissolved).sum(axis=0) + parcel.strong_anions_meq
    f2_u = (valence * valence * dissolved * ratio / (1.0 + ratio)).sum(axis=0)
    determinant = f1_u * found_slope - f1_v * f2_u
    step_site = (f1_v * f2 - f1 * found_slope) / determinant
    return step_site, (f2_u * f1 - f1_u * f2) / determinant


def _bisect(sites: Sites, parcel: Parcel, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
    """ln s and ln h by bisection, for waters so odd that Newton steps are slow."""
    low, high = np.full(shape, -60.0), np.full(shape, 40.0)
    log_h = np.zeros(shape)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        over, log_h = _over(sites, parcel, middle)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high), log_h


def _over(sites: Sites, parcel: Parcel, log_site: Floats) -> tuple[Floats, Floats]:
    """Whether ln s is too high, and ln h that closes the sites at this ln s."""
    dissolved, held, _ = _shares(sites, parcel, log_site)
    covered = held.sum(axis=0)
    if not sites.weak:
        return covered > 1.0, log_site
    open_share = np.maximum(1.0 - covered, 1e-300)
    log_h = np.log(open_share / _hydrogen_pull(sites, covered)) - log_site
    found = alkalinity(np.exp(np.clip(log_h, -60.0, 60.0)), parcel.dic_mmol, parcel.gamma)[0]
    charge = (_valence(held) * dissolved).sum(axis=0) - parcel.strong_anions_meq
    return (covered >= 1.0) | (found > charge), log_h
