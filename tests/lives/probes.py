"""Conductivity probes as they are: gain, drift, lag, standing water, bubbles, gaps, fouling."""

from __future__ import annotations

import msgspec
import numpy as np

from .conductivity import at_temperature


class Probe(msgspec.Struct, frozen=True, kw_only=True):
    """One conductivity and temperature probe in its place behind (or before) the filter head."""

    gain: float
    drift_per_day: float
    noise: float
    temperature_offset_c: float
    temperature_lag_s: float
    lag_s: float
    water_l: float
    warming_s: float
    slug: float
    slug_l: float
    bubbles: float


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """No conductivity (and perhaps no temperature) between two moments; `value` if near zero."""

    start_s: float
    end_s: float
    temperature_too: bool
    value: float | None = None


class Fouling(msgspec.Struct, frozen=True, kw_only=True):
    """A film grows on the electrodes from `onset_s`; at last the reading is `depth` low."""

    onset_s: float
    depth: float
    time_constant_s: float

    def factor(self, seconds: np.ndarray) -> np.ndarray:
        """Factor on the reading."""
        grown = np.clip(seconds - self.onset_s, 0, None) / self.time_constant_s
        return np.asarray(1 - self.depth * (1 - np.exp(-grown)))

    def time_low_by(self, share: float) -> float:
        """Seconds at which the reading is `share` low."""
        return self.onset_s - self.time_constant_s * float(np.log(1 - share / self.depth))


class Stuck(msgspec.Struct, frozen=True, kw_only=True):
    """The reading stays at its last value between two moments."""

    start_s: float
    end_s: float


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """What happens at the probe row by row: time, litres of the head, main and room temperature."""

    rows_s: np.ndarray
    litres: np.ndarray
    cold_c: np.ndarray
    room_c: np.ndarray


def probe(outlet: bool, medium: str, rng: np.random.Generator) -> Probe:
    """A probe of the usual quality; the outlet sees the slug of water that stood in the bed."""
    slug = {"hydrogen": -0.035, "mixed": -0.02}.get(medium, 0.004) if outlet else 0.0
    return Probe(
        gain=1 + float(rng.normal(0, 0.022)),
        drift_per_day=float(rng.normal(0, 1.3e-4)),
        noise=float(rng.uniform(0.0013, 0.0040)),
        temperature_offset_c=float(rng.normal(0, 0.15)),
        temperature_lag_s=float(rng.uniform(18, 40)),
        lag_s=float(rng.uniform(5, 12)),
        water_l=float(rng.uniform(0.25, 0.6) if outlet else rng.uniform(0.08, 0.2)),
        warming_s=float(rng.uniform(28, 50)) * 60,
        slug=slug * float(rng.uniform(0.3, 1.7)),
        slug_l=float(rng.uniform(0.15, 0.4)),
        bubbles=float(rng.uniform(0.0012, 0.008)),
    )


def room_c(rows_s: np.ndarray, local_start_h: float, rng: np.random.Generator) -> np.ndarray:
    """Air under the counter: warmest at three in the afternoon."""
    hour = local_start_h + rows_s / 3600
    level = float(rng.uniform(21.3, 24.9)) + float(rng.normal(0, 1)) * rows_s / (120 * 86400)
    return np.asarray(level + 2.2 * np.cos(2 * np.pi * (hour - 15) / 24))


def water_states(it: Probe, place: Place) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Temperature of the water and of the sensor (C), and the slug's factor - 1, row by row."""
    seconds = np.diff(place.rows_s, prepend=place.rows_s[0])
    litres = np.diff(place.litres, prepend=place.litres[0])
    keep_warm = np.exp(-seconds / it.warming_s).tolist()
    keep_water = np.exp(-litres / it.water_l).tolist()
    keep_sensor = np.exp(-seconds / it.temperature_lag_s).tolist()
    keep_bed = np.exp(-litres / it.slug_l).tolist()
    keep_cell = np.exp(-litres / 0.05).tolist()
    grow = (1 - np.exp(-seconds / 7200)).tolist()
    water = sensor = float(place.room_c[0])
    bed = cell = 0.0
    out = np.empty((3, len(seconds)))
    cold, room = place.cold_c.tolist(), place.room_c.tolist()
    for i in range(len(cold)):
        water = room[i] + (water - room[i]) * keep_warm[i]
        water = cold[i] + (water - cold[i]) * keep_water[i]
        sensor = water + (sensor - water) * keep_sensor[i]
        bed += (it.slug - bed) * grow[i]
        cell = bed + (cell - bed) * keep_cell[i]
        bed *= keep_bed[i]
        out[:, i] = water, sensor, cell
    return out[0], out[1], out[2]


def lagged(values: np.ndarray, rows_s: np.ndarray, lag_s: float) -> np.ndarray:
    """First-order response of the electrode."""
    keep = np.exp(-np.diff(rows_s, prepend=rows_s[0]) / lag_s).tolist()
    out = np.empty(len(values))
    state = float(values[0])
    for i, value in enumerate(values.tolist()):
        state = value + (state - value) * keep[i]
        out[i] = state
    return out


def readings(
    it: Probe,
    place: Place,
    table: np.ndarray,
    faults: list[msgspec.Struct],
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Uncompensated conductivity (uS/cm) and temperature (C) as recorded; NaN is no reading.

    `table` holds the conductivity of the water at the probe at four temperatures, per row.
    """
    water, sensor, slug = water_states(it, place)
    true = lagged(at_temperature(table, water) * (1 + slug), place.rows_s, it.lag_s)
    days = place.rows_s / 86400
    value = true * it.gain * (1 + it.drift_per_day * days)
    for fault in faults:
        if isinstance(fault, Fouling):
            value = value * fault.factor(place.rows_s)
    value = value * (1 + rng.normal(0, it.noise, len(value)))
    value = _spikes(value, np.diff(place.litres, prepend=0.0) > 0, it.bubbles, rng)
    shown = sensor + it.temperature_offset_c + rng.normal(0, 0.03, len(sensor))
    for fault in faults:
        value, shown = _interrupted(value, shown, place.rows_s, fault, rng)
    return np.round(value, 1), np.round(shown, 2)


def _spikes(
    value: np.ndarray, flowing: np.ndarray, rate: float, rng: np.random.Generator
) -> np.ndarray:
    """Bubbles pull readings down, mostly while water runs; electrical noise throws some up."""
    chance = rng.random(len(value))
    depth = 1 - rng.uniform(0.04, 0.75, len(value))
    height = rng.uniform(1.2, 4.0, len(value))
    low = chance < np.where(flowing, rate, 1.3e-4)
    high = chance > 1 - 1e-4
    return np.where(low, value * depth, np.where(high, value * height, value))


def _interrupted(
    value: np.ndarray,
    shown: np.ndarray,
    rows_s: np.ndarray,
    fault: msgspec.Struct,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    if isinstance(fault, Gap):
        inside = (rows_s >= fault.start_s) & (rows_s <= fault.end_s)
        near = np.nan if fault.value is None else fault.value * rng.uniform(0, 1, len(value))
        value = np.where(inside, near, value)
        if fault.temperature_too:
            shown = np.where(inside, np.nan, shown)
    if isinstance(fault, Stuck):
        inside = (rows_s >= fault.start_s) & (rows_s <= fault.end_s)
        if inside.any():
            first = int(np.argmax(inside))
            held = float(np.nanmedian(value[max(first - 5, 0) : first + 1]))
            value = np.where(inside, held, value)
    return value, shown
