"""Calibration from points an installer takes: a line with errors in both, cell, temperature, K.

Every figure comes with the standard uncertainty of JCGM 100:2008 (GUM): what scatters is learned
from the scatter, what is the same for all points (the standard's label, the jug) is added once.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.errors import ModelError
from analytics.samples import Floats

T_95: Final = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812)
"""95 % points of Student's t for 1 to 10 degrees of freedom (any statistical table)."""
Z_95: Final = 1.645
ROUNDS: Final = 100
LABEL_SD: Final = 0.005
"""A bottled standard's label is right to about 1 % at the most (common practice, no source)."""
THERMOMETER_SD_C: Final = 0.3
JUG_SD: Final = 0.005
"""A kitchen jug or scale, read with care (common practice, no source)."""
JUGS_LEAST: Final = 3
JUGS_APART: Final = 0.03
"""Jugs of one flow that differ more than this (greatest from least) are to be drawn again."""
DRY_MOST_US_CM: Final = 5.0
"""A dry probe that reads more is wet, or has a leak in its cable (common practice, no source)."""
CELL_USUAL: Final = (0.8, 1.25)
"""A probe of the stated cell constant is this near to the truth, or it is fouled or mistaken."""


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """y = intercept + slope * x, with variances and covariance; `misfit` is chi-square over the
    degrees of freedom, NaN where there are none."""

    slope: float
    intercept: float
    slope_var: float
    intercept_var: float
    covariance: float
    misfit: float


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A value with its standard uncertainty."""

    value: float
    sd: float

    @property
    def relative_sd(self) -> float:
        """The uncertainty as a share of the value."""
        return self.sd / abs(self.value)


class ProbePoint(msgspec.Struct, frozen=True, kw_only=True):
    """What a probe read (not referred to 25 C), and what was true at that temperature."""

    read_us_cm: float
    read_sd: float
    true_us_cm: float
    true_sd: float


class CellFit(msgspec.Struct, frozen=True, kw_only=True):
    """true = gain * (read - dry): gain times the stated cell constant is the probe's own."""

    gain: Figure
    dry_us_cm: Figure


class Jug(msgspec.Struct, frozen=True, kw_only=True):
    """One measured jug: pulses counted, litres read, seconds the water ran, give or take."""

    pulses: int
    litres: float
    seconds: float
    seconds_sd: float = 1.0

    @property
    def pulses_per_l(self) -> float:
        """K-factor of this jug alone."""
        return self.pulses / self.litres

    @property
    def flow_l_min(self) -> float:
        """Its mean flow."""
        return self.litres / self.seconds * 60.0


class LowFlow(msgspec.Struct, frozen=True, kw_only=True):
    """A turbine gives k_endless * (flow - slip) pulses a minute: below `slip_l_min` it stands."""

    k_endless: Figure
    slip_l_min: Figure

    def pulses_per_l(self, flow_l_min: float) -> float:
        """K-factor at a flow."""
        return self.k_endless.value * max(1.0 - self.slip_l_min.value / flow_l_min, 0.0)


def line_with_errors(x: Floats, x_sd: Floats, y: Floats, y_sd: Floats) -> Line:
    """The most likely line through points with independent normal errors in both coordinates.

    York, Evensen, Martinez & De Basabe Delgado, Am. J. Phys. 72 (2004) 367, equations 13 a-f.
    Where points lie further from the line than their errors say, the variances grow by the misfit
    (Birge, Phys. Rev. 40 (1932) 207).

    Raises ModelError for fewer than two different points, or a slope that will not settle.
    """
    if len(x) < 2 or float(np.ptp(x)) <= 0.0:
        raise ModelError("a line needs two different points", "Take another point.")
    wx, wy = 1.0 / np.maximum(x_sd, 1e-12) ** 2, 1.0 / np.maximum(y_sd, 1e-12) ** 2
    slope = float(np.polynomial.polynomial.polyfit(x, y, 1)[1])
    for _ in range(ROUNDS):
        before = slope
        weight = wx * wy / (wx + slope**2 * wy)
        x_mean, y_mean = np.average(x, weights=weight), np.average(y, weights=weight)
        u, v = x - x_mean, y - y_mean
        beta = weight * (u / wy + slope * v / wx)
        over = float((weight * beta * u).sum())
        if over == 0.0:
            raise ModelError(
                "a line needs points further apart than they are uncertain", "Take another point."
            )
        slope = float((weight * beta * v).sum()) / over
        if abs(slope - before) <= 1e-12 * abs(slope):
            break
    else:
        raise ModelError("no line fits these points", "Take the points again.")
    return _with_variances(x, y, slope, float(x_mean), float(y_mean), weight, beta)


def _with_variances(
    x: Floats, y: Floats, slope: float, x_mean: float, y_mean: float, weight: Floats, beta: Floats
) -> Line:
    intercept = y_mean - slope * x_mean
    adjusted = x_mean + beta
    centre = float(np.average(adjusted, weights=weight))
    slope_var = 1.0 / float((weight * (adjusted - centre) ** 2).sum())
    intercept_var = 1.0 / float(weight.sum()) + centre**2 * slope_var
    free = len(x) - 2
    chi2 = float((weight * (y - intercept - slope * x) ** 2).sum())
    misfit = chi2 / free if free else math.nan
    grow = max(misfit, 1.0) if free else 1.0
    return Line(
        slope=slope,
        intercept=intercept,
        slope_var=grow * slope_var,
        intercept_var=grow * intercept_var,
        covariance=-grow * centre * slope_var,
        misfit=misfit,
    )


def cell_fit(points: tuple[ProbePoint, ...]) -> CellFit:
    """Gain and dry reading of a probe from two points or more: dry, and in a standard.

    Raises ModelError where the points do not make a line.
    """
    columns = [np.array(column) for column in zip(*map(_plain, points), strict=True)]
    line = line_with_errors(*columns)
    if line.slope <= 0.0:
        raise ModelError("the probe reads less where there is more", "Take the points again.")
    dry = -line.intercept / line.slope
    dry_var = (
        line.intercept_var + dry**2 * line.slope_var + 2.0 * dry * line.covariance
    ) / line.slope**2
    return CellFit(
        gain=Figure(value=line.slope, sd=math.sqrt(line.slope_var)),
        dry_us_cm=Figure(value=dry, sd=math.sqrt(max(dry_var, 0.0))),
    )


def _plain(point: ProbePoint) -> tuple[float, float, float, float]:
    return point.read_us_cm, point.read_sd, point.true_us_cm, point.true_sd


def gain_at(fit: CellFit, read_us_cm: float) -> Figure:
    """True over read where the probe reads this: the gain with the dry reading taken off."""
    off = 1.0 - fit.dry_us_cm.value / read_us_cm
    sd = math.hypot(fit.gain.sd * off, fit.gain.value * fit.dry_us_cm.sd / read_us_cm)
    return Figure(value=fit.gain.value * off, sd=sd)


def temperature_coefficient(
    temps_c: Floats, temp_sd_c: float, read_us_cm: Floats, read_sd: Floats
) -> Figure:
    """Relative change a kelvin of one liquid's conductivity, referred to 25 C (linear).

    EC(t) = EC25 (1 + a (t - 25)), ISO 7888:1985; a = slope / intercept of the line over t - 25,
    with the uncertainty of a ratio of correlated figures (JCGM 100:2008, 5.2.2).

    Raises ModelError where all points have one temperature.
    """
    x = np.asarray(temps_c, dtype=np.float64) - 25.0
    line = line_with_errors(x, np.full(len(x), temp_sd_c), read_us_cm, read_sd)
    a = line.slope / line.intercept
    variance = (
        line.slope_var + a**2 * line.intercept_var - 2.0 * a * line.covariance
    ) / line.intercept**2
    return Figure(value=a, sd=math.sqrt(max(variance, 0.0)))


def k_factor(jugs: tuple[Jug, ...], jug_sd: float = JUG_SD) -> Figure:
    """Pulses per litre from jugs of one flow; `jug_sd` is the jug's own relative error, which is
    the same in all of them.

    The mean of few jugs is less sure than their scatter says: it is widened so that 90 % lie where
    Student's t puts them. Half a pulse at either end is added (JCGM 100:2008, 4.3.7).

    Raises ModelError without jugs.
    """
    if not jugs:
        raise ModelError("no jug was measured", "Draw a jug.")
    found = np.array([jug.pulses_per_l for jug in jugs])
    mean, n = float(found.mean()), len(jugs)
    scatter = float(found.std(ddof=1)) / math.sqrt(n) * _few(n - 1) if n > 1 else 0.02 * mean
    ends = float(np.mean([1.0 / jug.litres for jug in jugs])) / math.sqrt(6.0 * n)
    return Figure(value=mean, sd=math.hypot(scatter, jug_sd * mean, ends))


def jugs_apart(jugs: tuple[Jug, ...]) -> float:
    """How far apart the jugs of one flow are: greatest over least, less one."""
    found = [jug.pulses_per_l for jug in jugs]
    return max(found) / min(found) - 1.0 if min(found) > 0.0 else math.inf


def low_flow(jugs: tuple[Jug, ...], jug_sd: float = JUG_SD) -> LowFlow:
    """How a turbine falls behind at a trickle, from jugs at two flows or more.

    Above its starting flow a turbine turns in proportion to the flow less what its bearings and
    the gap beside its blades take (Baker, Flow Measurement Handbook, chapter on turbine meters,
    from memory): K-factors are a straight line over 1 / flow. How long a jug took is read from
    rows some seconds apart, which makes the flow uncertain, but not the K-factor.

    Raises ModelError where all jugs had one flow.
    """
    slow = np.array([1.0 / jug.flow_l_min for jug in jugs])
    slow_sd = slow * np.array([jug.seconds_sd / jug.seconds for jug in jugs])
    found = np.array([jug.pulses_per_l for jug in jugs])
    ends = np.array([1.0 / jug.litres for jug in jugs]) / math.sqrt(6.0)
    line = line_with_errors(slow, slow_sd, found, np.hypot(ends, jug_sd * found))
    slip = -line.slope / line.intercept
    slip_var = (
        line.slope_var + slip**2 * line.intercept_var + 2.0 * slip * line.covariance
    ) / line.intercept**2
    return LowFlow(
        k_endless=Figure(value=line.intercept, sd=math.sqrt(line.intercept_var)),
        slip_l_min=Figure(value=slip, sd=math.sqrt(max(slip_var, 0.0))),
    )


def k_in_use(full: Figure, brew: Figure) -> Figure:
    """One K-factor for water of which an unknown share runs at brew-like flow.

    Any share is as likely: the mean of the two, with their distance over sqrt(12) added (a
    rectangular distribution, JCGM 100:2008, 4.3.7).
    """
    mean = 0.5 * (full.value + brew.value)
    apart = abs(full.value - brew.value) / math.sqrt(12.0)
    return Figure(value=mean, sd=math.hypot(0.5 * (full.sd + brew.sd), apart))


def _few(free: int) -> float:
    """How much wider Student's t is than the normal distribution, at 90 %."""
    return T_95[free - 1] / Z_95 if free <= len(T_95) else 1.0 + 1.1 / free
