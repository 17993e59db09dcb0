"""Conductivity referred to 25 C: the natural-water curve, a straight line, a site's own trim.

The curve is ISO 7888:1985 / EN 27888 (factors f25 for natural waters, 0 <= t < 36 C), as a
polynomial fitted to its table: exact at 25 C and nowhere more than 0.0007 away, of which 0.0005 is
the table's own rounding. It is an average curve: calcium bicarbonate waters leave it by up to 4 %
at 0 C, so each probe's site learns a small linear trim from its own draws.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.solvent import viscosity_mpa_s
from analytics.samples import Floats, Ints

ISO_7888_LOW_C: Final = 0.0
ISO_7888_HIGH_C: Final = 36.0
_F25 = (1.0, -0.021135623, 3.7546269e-4, -5.1791357e-6, 1.2833252e-7, -2.4698229e-9)
VISCOSITY_POWER: Final = 0.92
"""Beyond the ends of the curve it goes on as viscosity to this power (the curve itself has 0.931
at 0 C and 0.919 at 35 C)."""
USUAL_TRIM_SD_PER_K: Final = 0.0015
"""Spread of the trim among waters: 4 % at 0 C (PHREEQC 3.8.6 for four tap waters)."""


def f25(temp_c: float | Floats) -> Floats:
    """Factor of ISO 7888: EC25 = EC(t) f25(t)."""
    t = np.asarray(temp_c, dtype=np.float64)
    inside = np.clip(t, ISO_7888_LOW_C, ISO_7888_HIGH_C)
    curve = np.polynomial.polynomial.polyval(inside - 25.0, _F25)
    safe = np.clip(t, -20.0, 120.0)
    beyond = (viscosity_mpa_s(safe) / viscosity_mpa_s(inside)) ** VISCOSITY_POWER
    return np.where(safe == inside, curve, curve * beyond)


def f25_where_defined(temp_c: float | Floats) -> Floats:
    """Factor of ISO 7888 from 0 to 36 C, NaN elsewhere: no reading is better than a guessed one."""
    return np.where(inside_iso_7888(temp_c), f25(temp_c), np.nan)


def inside_iso_7888(temp_c: float | Floats) -> np.ndarray:
    """Whether the standard covers this temperature."""
    t = np.asarray(temp_c, dtype=np.float64)
    return (t >= ISO_7888_LOW_C) & (t < ISO_7888_HIGH_C)


def ec25_natural(ec_us_cm: float | Floats, temp_c: float | Floats) -> Floats:
    """EC25 by the natural-water curve. NaN in, NaN out: no reading stays no reading."""
    return np.asarray(ec_us_cm * f25(temp_c))


def ec_natural(ec25_us_cm: float | Floats, temp_c: float | Floats) -> Floats:
    """What an uncompensated probe reads at temperature, by the natural-water curve."""
    return np.asarray(ec25_us_cm / f25(temp_c))


def ec25_linear(
    ec_us_cm: float | Floats, temp_c: float | Floats, percent_per_k: float = 2.0
) -> Floats:
    """EC25 by a straight line: EC / (1 + a (t - 25)). Instruments' usual a is 2.0-2.2 %/K."""
    t = np.asarray(temp_c, dtype=np.float64)
    return np.asarray(ec_us_cm / (1 + percent_per_k / 100 * (t - 25.0)))


def ec_at_20(ec25_us_cm: float | Floats) -> Floats:
    """Conductivity at 20 C of a natural water; European limits are written at 20 C."""
    return ec_natural(ec25_us_cm, 20.0)


class Trim(msgspec.Struct, frozen=True, kw_only=True):
    """A site's departure from the curve: EC25 = EC25(curve) (1 + `per_k` (t - 25)).

    `se_per_k` is infinite where the draws say nothing (too few, or all at one temperature).
    """

    per_k: float = 0.0
    se_per_k: float = float("inf")
    draws: int = 0

    def ec25(self, curve_ec25_us_cm: float | Floats, temp_c: float | Floats) -> Floats:
        """Trimmed EC25."""
        t = np.asarray(temp_c, dtype=np.float64)
        return np.asarray(curve_ec25_us_cm * (1 + self.per_k * (t - 25.0)))

    def tempered(self, spread_per_k: float = USUAL_TRIM_SD_PER_K) -> Trim:
        """The trim joined with what is usual among waters: 0 with a spread."""
        if not np.isfinite(self.se_per_k):
            return Trim(per_k=0.0, se_per_k=spread_per_k, draws=self.draws)
        known, usual = self.se_per_k**-2.0, spread_per_k**-2.0
        return Trim(
            per_k=self.per_k * known / (known + usual),
            se_per_k=float((known + usual) ** -0.5),
            draws=self.draws,
        )


_BLOCK = 20
_ROUNDS = 30
_HUBER = 1.345
_TUKEY = 4.685


def learn_trim(ec25_us_cm: Floats, temp_c: Floats, block: int = _BLOCK) -> Trim:
    """The trim that makes one probe's draws, in order of time, independent of temperature.

    Within each run of `block` draws the water is taken as constant, so that seasons and slow drift
    do not pass for temperature; draws that do not fit (a source switch, bubbles) lose their weight
    (Huber, then Tukey biweight). Draws without a reading are left out.
    """
    usable = np.isfinite(ec25_us_cm) & np.isfinite(temp_c) & (ec25_us_cm > 0)
    y, d = np.log(ec25_us_cm[usable]), temp_c[usable] - 25.0
    blocks = np.arange(y.size) // block
    freedom = y.size - len(np.unique(blocks)) - 1
    if freedom < 1:
        return Trim(draws=int(y.size))
    slope, weights = 0.0, np.ones_like(y)
    x, residual = d, y
    for turn in range(_ROUNDS):
        x = _within(-d / (1 + slope * d), weights, blocks)
        residual = _within(y + np.log1p(slope * d), weights, blocks)
        moment = float((weights * x**2).sum())
        if moment < 1e-6:
            return Trim(draws=int(y.size))
        move = float((weights * x * residual).sum()) / moment
        slope += move
        residual = residual - move * x
        weights = _weights(residual, _HUBER if turn < _ROUNDS // 2 else _TUKEY)
    spread = float((weights * residual**2).sum()) / max(
        float(weights.sum()) - y.size + freedom, 1.0
    )
    se = float(np.sqrt(spread / float((weights * x**2).sum())))
    return Trim(per_k=slope, se_per_k=max(se, 1e-9), draws=int(y.size))


def _within(values: Floats, weights: Floats, blocks: Ints) -> Floats:
    """Values less the weighted mean of their block."""
    whole = np.maximum(np.bincount(blocks, weights), 1e-12)
    means: Floats = np.bincount(blocks, weights * values) / whole
    return values - means[blocks]


def _weights(residual: Floats, tuning: float) -> Floats:
    """Huber weights, or Tukey's for the larger tuning constant; scale by the median deviation."""
    scale = 1.4826 * float(np.median(np.abs(residual))) + 1e-12
    distance = np.abs(residual) / (tuning * scale)
    if tuning == _HUBER:
        return 1 / np.maximum(distance, 1.0)
    return np.square(np.clip(1 - distance**2, 0.0, None))
