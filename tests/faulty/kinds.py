"""The faults of the field, each as what it does to water, meters and rows from one moment on."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np

from analytics.samples import Flag, Floats, Ints, Rows
from tests.lives.logger import PulseFault
from tests.lives.plan import Plan
from tests.lives.probes import Fouling, Gap, Stuck
from tests.lives.supply import Switch

DAY_S = 86400.0
OPENS_BEFORE_H, CLOSES_AFTER_H = 0.75, 0.75
SHOWS = ("hydrogen", "mixed")
"""Media behind which conductivity plainly differs from raw water."""
ANY = ("hydrogen", "mixed", "sodium", "magnesium")

Columns = dict[str, Floats | Ints]


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """A fault's name, the media it is tried with, whether it takes two probes, and whether somebody
    reads the water meter by hand."""

    name: str
    media: tuple[str, ...] = ANY
    pair: bool = False
    hand_read: bool = False


class World(msgspec.Struct, frozen=True, kw_only=True):
    """A cafe's plan, what is to go wrong and when."""

    plan: Plan
    kind: Kind
    fault_s: float
    days: int
    used: float


def _as_they_are(columns: Columns, begin_ms: int, rng: np.random.Generator) -> Rows:
    return Rows(**columns)  # type: ignore[arg-type]


class Spoilt(msgspec.Struct, frozen=True, kw_only=True):
    """What a fault does: to the water, the meters, and at last to the rows."""

    begins_s: float
    switch: Switch | None = None
    leak: tuple[float, float, float] | None = None
    dry: tuple[float, float] | None = None
    outages: tuple[tuple[float, float], ...] = ()
    pulse_faults: tuple[PulseFault, ...] = ()
    k_off: float = 1.0
    probes: dict[str, tuple[msgspec.Struct, ...]] = {}
    change: Callable[[Columns, int, np.random.Generator], Rows] = _as_they_are


KINDS = (
    Kind(name=""),
    Kind(name="bubbles"),
    Kind(name="film", media=SHOWS, pair=True),
    Kind(name="cell-dry"),
    Kind(name="cell-short"),
    Kind(name="thermometer"),
    Kind(name="", hand_read=True),
    Kind(name="no-reading"),
    Kind(name="probe-stuck"),
    Kind(name="probes-exchanged", media=SHOWS, pair=True),
    Kind(name="k-factor-off", hand_read=True),
    Kind(name="pulses-lost"),
    Kind(name="", media=SHOWS, pair=True),
    Kind(name="pulses-doubled"),
    Kind(name="counter-anew"),
    Kind(name="flow-meter-stuck"),
    Kind(name="leak"),
    Kind(name="no-flow"),
    Kind(name="filled-round"),
    Kind(name="cartridge-unannounced", media=SHOWS, pair=True),
    Kind(name="bypass-moved", media=SHOWS, pair=True),
    Kind(name="raw-water-changed", media=SHOWS, pair=True),
    Kind(name="clock-wrong"),
    Kind(name="data-gap"),
)
"""In turn, so that a batch holds each; the empty name is a healthy stretch."""


def kind_of(number: int, fault: str | None) -> Kind:
    """The kind of the stretch of this number."""
    usable = [kind for kind in KINDS if fault is None or kind.name == fault]
    return usable[number % len(usable)]


def spoil(world: World, rng: np.random.Generator) -> Spoilt:
    """What the fault of this stretch does."""
    return _SPOIL.get(world.kind.name, _healthy)(world, rng)


def _healthy(world: World, rng: np.random.Generator) -> Spoilt:
    return Spoilt(begins_s=world.fault_s)


def _where(world: World, rng: np.random.Generator) -> str:
    return "inlet" if world.plan.pair and rng.random() < 0.5 else "outlet"


def _on_probe(where: str, begins_s: float, fault: msgspec.Struct) -> Spoilt:
    return Spoilt(begins_s=begins_s, probes={where: (fault,)})


def _gap(value: float | None) -> Callable[[World, np.random.Generator], Spoilt]:
    def make(world: World, rng: np.random.Generator) -> Spoilt:
        until = world.fault_s + float(rng.uniform(1, 4)) * DAY_S
        gap = Gap(start_s=world.fault_s, end_s=until, temperature_too=False, value=value)
        return _on_probe(_where(world, rng), world.fault_s, gap)

    return make


def _film(world: World, rng: np.random.Generator) -> Spoilt:
    fouling = Fouling(
        onset_s=world.fault_s - DAY_S,
        depth=float(rng.uniform(0.2, 0.4)),
        time_constant_s=float(rng.uniform(8, 22)) * DAY_S,
    )
    return _on_probe(_where(world, rng), world.fault_s - DAY_S, fouling)


def _stuck_probe(world: World, rng: np.random.Generator) -> Spoilt:
    until = world.fault_s + float(rng.uniform(4, 9)) * DAY_S
    return _on_probe(_where(world, rng), world.fault_s, Stuck(start_s=world.fault_s, end_s=until))


def _pulses(low: float, high: float) -> Callable[[World, np.random.Generator], Spoilt]:
    def make(world: World, rng: np.random.Generator) -> Spoilt:
        until = world.fault_s + float(rng.uniform(5, 12)) * DAY_S
        fault = PulseFault(world.fault_s, until, float(rng.uniform(low, high)))
        return Spoilt(begins_s=world.fault_s, pulse_faults=(fault,))

    return make


def _k_off(world: World, rng: np.random.Generator) -> Spoilt:
    share = float(rng.choice([rng.uniform(0.55, 0.8), rng.uniform(1.25, 1.7)]))
    return Spoilt(begins_s=0.0, k_off=share)


def _leak(world: World, rng: np.random.Generator) -> Spoilt:
    until = world.fault_s + float(rng.uniform(3, 9)) * DAY_S
    return Spoilt(begins_s=world.fault_s, leak=(world.fault_s, until, float(rng.uniform(0.6, 3.0))))


def _dry(world: World, rng: np.random.Generator) -> Spoilt:
    """Nothing flows through the head, though cups are served or wanted."""
    until = world.fault_s + float(rng.uniform(2, 6)) * DAY_S
    return Spoilt(begins_s=world.fault_s, dry=(world.fault_s, until))


def _switch(world: World, rng: np.random.Generator) -> Spoilt:
    water = world.plan.step_water
    assert water is not None
    return Spoilt(
        begins_s=world.fault_s,
        switch=Switch(world.fault_s, float(rng.uniform(0.5, 6)) * 3600, water),
    )


def _outage(world: World, rng: np.random.Generator) -> Spoilt:
    until = world.fault_s + float(rng.uniform(0.3, 7)) * DAY_S
    return Spoilt(begins_s=world.fault_s, outages=((world.fault_s, until),))


def _changing(
    spoil_rows: Callable[[World, Columns, np.ndarray, np.random.Generator], None],
) -> Callable[[World, np.random.Generator], Spoilt]:
    """A fault that only the rows show, from its moment to the end."""

    def make(world: World, rng: np.random.Generator) -> Spoilt:
        def change(columns: Columns, begin_ms: int, inner: np.random.Generator) -> Rows:
            after = columns["at_ms"] >= begin_ms + round(world.fault_s * 1000)
            spoil_rows(world, columns, after, inner)
            return _in_order(columns)

        return Spoilt(begins_s=world.fault_s, change=change)

    return make


def _in_order(columns: Columns) -> Rows:
    """Rows as a store keeps them: none from before one that is there."""
    at = columns["at_ms"]
    newest = np.maximum.accumulate(at)
    kept = np.concatenate(([True], at[1:] > newest[:-1]))
    return Rows(**{name: column[kept] for name, column in columns.items()})  # type: ignore[arg-type]


def _bubbles(world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator) -> None:
    where, count = _where(world, rng), len(after)
    struck = after & (columns["pulses"] > 0) & (rng.random(count) < rng.uniform(0.12, 0.4))
    ec = columns[f"{where}_us_cm"]
    columns[f"{where}_us_cm"] = np.where(struck, ec * (1 - rng.uniform(0.04, 0.75, count)), ec)


def _short(world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator) -> None:
    where = _where(world, rng)
    over = rng.uniform(25_000, 200_000, len(after))
    columns[f"{where}_us_cm"] = np.where(after, over, columns[f"{where}_us_cm"])


def _thermometer(
    world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator
) -> None:
    """Open, shorted, or off by a dozen kelvin and more."""
    where = _where(world, rng)
    temp = columns[f"{where}_temp_c"]
    how = int(rng.integers(0, 4))
    off = float(rng.uniform(12, 30))
    wrong = (np.full(len(temp), np.nan), np.full(len(temp), -60.0), temp + off, temp - off)[how]
    columns[f"{where}_temp_c"] = np.where(after, wrong, temp)


def _exchange(world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator) -> None:
    for what in ("us_cm", "temp_c"):
        out, into = columns[f"outlet_{what}"], columns[f"inlet_{what}"]
        columns[f"outlet_{what}"] = np.where(after, into, out)
        columns[f"inlet_{what}"] = np.where(after, out, into)


def _resets(world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator) -> None:
    """The node starts anew some times a day: what it had counted since the last row is gone."""
    again = after & (rng.random(len(after)) < rng.uniform(5, 20) / 1440)
    columns["flags"] = np.where(again, columns["flags"] | int(Flag.COUNTER_RESET), columns["flags"])
    columns["pulses"] = np.where(again, 0, columns["pulses"])


def _clock(world: World, columns: Columns, after: np.ndarray, rng: np.random.Generator) -> None:
    """The box is hours off, or does not know the time and says so."""
    if rng.random() < 0.4:
        columns["flags"] = np.where(
            after, columns["flags"] | int(Flag.CLOCK_UNSURE), columns["flags"]
        )
        return
    hours = float(rng.choice([-1, 1])) * float(rng.uniform(2.5, 7))
    columns["at_ms"] = columns["at_ms"] + np.where(after, round(hours * 3600) * 1000, 0)


_SPOIL: dict[str, Callable[[World, np.random.Generator], Spoilt]] = {
    "bubbles": _changing(_bubbles),
    "film": _film,
    "cell-dry": _gap(3.0),
    "cell-short": _changing(_short),
    "thermometer": _changing(_thermometer),
    "no-reading": _gap(None),
    "probe-stuck": _stuck_probe,
    "probes-exchanged": _changing(_exchange),
    "k-factor-off": _k_off,
    "pulses-lost": _pulses(0.4, 0.75),
    "pulses-doubled": _pulses(2.0, 2.0),
    "counter-anew": _changing(_resets),
    "flow-meter-stuck": _pulses(0.0, 0.0),
    "leak": _leak,
    "no-flow": _dry,
    "filled-round": _dry,
    "raw-water-changed": _switch,
    "clock-wrong": _changing(_clock),
    "data-gap": _outage,
}
