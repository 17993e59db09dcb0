"""The words everybody shares: rows, draws, events, estimates, alarm changes.

Base units are in the names. Instants are whole milliseconds of UTC since 1970 (`at_ms`), so that
equality and hour boundaries are exact. Columns are numpy arrays; everything else is a frozen
struct. Arrays inside a frozen struct are never written to after it is built.
"""

from __future__ import annotations

from enum import IntFlag, StrEnum
from typing import Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 86_400_000

NO_COUNT = -1
"""Stands in a column of pulses where the meter gave no reading."""


class Flag(IntFlag):
    """What is known against a row. 0 is a good row."""

    GOOD = 0
    OUTLET_SUSPECT = 1  # the device or the driver doubts the outlet probe
    INLET_SUSPECT = 2
    FLOW_SUSPECT = 4
    CLOCK_UNSURE = 8  # the instant was not known to be right when the row was stored
    COUNTER_RESET = 16  # the pulse counter started anew before this row
    SIMULATED = 32  # from virtual meters
    DATE_GUESSED = 64  # nobody will know the exact instant: placed between its neighbours


CHANNELS = ("outlet_us_cm", "outlet_temp_c", "inlet_us_cm", "inlet_temp_c")
"""Value channels of a row: conductivity as the probe reads it (not referred to 25 C),
temperature."""


class Rows(msgspec.Struct, frozen=True, kw_only=True):
    """Readings of one line, a column a channel; row i is everything read at `at_ms[i]`.

    NaN is 'no reading'. `pulses[i]` were counted since the row before (NO_COUNT: no reading).
    `flags` holds `Flag` bits. All columns have one length; `at_ms` never decreases.
    """

    at_ms: Ints
    outlet_us_cm: Floats
    outlet_temp_c: Floats
    inlet_us_cm: Floats
    inlet_temp_c: Floats
    pulses: Ints
    flags: Ints

    def __len__(self) -> int:
        return len(self.at_ms)

    def cut(self, start: int, stop: int) -> Rows:
        """Rows `start` to `stop` (positions), sharing memory."""
        return Rows(**{name: getattr(self, name)[start:stop] for name in ROW_COLUMNS})

    def pick(self, places: Ints) -> Rows:
        """Rows at these positions, in their order."""
        return Rows(**{name: getattr(self, name)[places] for name in ROW_COLUMNS})


ROW_COLUMNS = ("at_ms", *CHANNELS, "pulses", "flags")


def no_rows() -> Rows:
    """A block of no rows."""
    return rows_of([])


def rows_of(records: list[tuple[int, float, float, float, float, int, int]]) -> Rows:
    """Rows from (at_ms, outlet_us_cm, outlet_temp_c, inlet_us_cm, inlet_temp_c, pulses, flags)."""
    columns = list(zip(*records, strict=True)) if records else [()] * len(ROW_COLUMNS)
    kinds = (np.int64, np.float64, np.float64, np.float64, np.float64, np.int64, np.int64)
    built: dict[str, Any] = {
        n: np.array(c, dtype=k) for n, c, k in zip(ROW_COLUMNS, columns, kinds, strict=True)
    }
    return Rows(**built)


def join_rows(first: Rows, second: Rows) -> Rows:
    """One block after the other."""
    if not len(first):
        return second
    if not len(second):
        return first
    return Rows(**{n: np.concatenate((getattr(first, n), getattr(second, n))) for n in ROW_COLUMNS})


class Draws(msgspec.Struct, frozen=True, kw_only=True):
    """Draws of one line, a column a property; a draw is one continuous flow event.

    Everything is in the instrument's own terms, so that a calibration that becomes known later
    needs no second look at raw rows: `pulses` (not litres), EC25 as the probe has it (temperature
    compensated by the natural-water curve, but no probe gain applied).

    `ec25` columns are weighted means over the part of the draw that counts (flowing, and enough
    pulses since the water last stood), NaN where nothing counted; `_se` is the standard error of
    that mean from the scatter inside the draw; `_temp_c` the temperature over the same part.
    `pulses_before` were drawn since the water last stood, before this draw; `still_ms` is how long
    it had stood before that run began. `flags` joins the flags of the rows.
    """

    start_ms: Ints
    end_ms: Ints
    pulses: Ints
    pulses_before: Ints
    still_ms: Ints
    outlet_ec25_us_cm: Floats
    outlet_ec25_se: Floats
    outlet_temp_c: Floats
    inlet_ec25_us_cm: Floats
    inlet_ec25_se: Floats
    inlet_temp_c: Floats
    flags: Ints

    def __len__(self) -> int:
        return len(self.start_ms)

    def cut(self, start: int, stop: int) -> Draws:
        """Draws `start` to `stop` (positions), sharing memory."""
        return Draws(**{name: getattr(self, name)[start:stop] for name in DRAW_COLUMNS})


DRAW_COLUMNS = (
    "start_ms",
    "end_ms",
    "pulses",
    "pulses_before",
    "still_ms",
    "outlet_ec25_us_cm",
    "outlet_ec25_se",
    "outlet_temp_c",
    "inlet_ec25_us_cm",
    "inlet_ec25_se",
    "inlet_temp_c",
    "flags",
)
DRAW_WHOLE = frozenset(("start_ms", "end_ms", "pulses", "pulses_before", "still_ms", "flags"))


def no_draws() -> Draws:
    """A batch of no draws."""
    built: dict[str, Any] = {
        n: np.empty(0, dtype=np.int64 if n in DRAW_WHOLE else np.float64) for n in DRAW_COLUMNS
    }
    return Draws(**built)


def join_draws(first: Draws, second: Draws) -> Draws:
    """One batch after the other."""
    if not len(first):
        return second
    if not len(second):
        return first
    return Draws(
        **{n: np.concatenate((getattr(first, n), getattr(second, n))) for n in DRAW_COLUMNS}
    )


# --- events: everything that has a date and was not measured by a meter ---------------------------


class Point(StrEnum):
    """Where a sample was taken."""

    RAW = "raw"
    TREATED = "treated"  # straight from the medium
    BLENDED = "blended"  # what the machine gets


class Event(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind"):
    """Something that happened at `at_ms` and was known to the site at `known_at_ms`.

    `corrects` is the id of an earlier event that this one stands in place of; that one was
    withdrawn.
    """

    at_ms: int
    line_id: str = ""
    known_at_ms: int = 0
    event_id: str = ""
    who: str = ""
    note: str = ""
    corrects: str = ""


class DropTest(Event, tag="drop-test", frozen=True, kw_only=True):
    """A titration by drops: the truth lies in (value - step, value].

    Any of the three may be missing. Alkalinity is what a "KH" test titrates; it may exceed total
    hardness. Values and steps are in mmol/L (hardness, calcium) and meq/L (alkalinity).
    """

    point: Point
    hardness_mmol_l: float | None = None
    hardness_step_mmol_l: float = 0.178326
    alkalinity_meq_l: float | None = None
    alkalinity_step_meq_l: float = 0.356652
    calcium_mmol_l: float | None = None
    calcium_step_mmol_l: float = 0.178326


class CartridgeFitted(Event, tag="cartridge-fitted", frozen=True, kw_only=True):
    """A cartridge was put in. `litres_before` already passed it: None is 'not known', 0 is new."""

    cartridge_id: str = ""
    litres_before: float | None = None
    litres_before_sd: float = 0.0


class BypassSet(Event, tag="bypass-set", frozen=True, kw_only=True):
    """The bypass was turned to this share (0-1)."""

    share: float


class KFactorSet(Event, tag="k-factor-set", frozen=True, kw_only=True):
    """The flow meter was calibrated (or its plate read): pulses per litre and relative spread."""

    pulses_per_l: float
    relative_sd: float = 0.03


class ProbeCalibrated(Event, tag="probe-calibrated", frozen=True, kw_only=True):
    """A probe was checked in a standard: true over read is `gain`, once what it reads dry is taken
    off."""

    probe: str
    gain: float
    relative_sd: float = 0.005
    dry_us_cm: float = 0.0


class CrossZero(Event, tag="cross-zero", frozen=True, kw_only=True):
    """Both probes (or the one there is) read raw water at one time; as read, not referred to 25
    C."""

    outlet_us_cm: float
    outlet_temp_c: float
    inlet_us_cm: float | None = None
    inlet_temp_c: float | None = None


class UtilityReport(Event, tag="utility-report", frozen=True, kw_only=True):
    """What the water company states for a year, with its relative spread."""

    hardness_mmol_l: float | None = None
    alkalinity_meq_l: float | None = None
    calcium_mmol_l: float | None = None
    magnesium_mmol_l: float | None = None
    ec25_us_cm: float | None = None
    relative_sd: float = 0.07


class MeterReading(Event, tag="meter-reading", frozen=True, kw_only=True):
    """A person read a water meter: litres through the head since its own zero."""

    litres: float


class Part(StrEnum):
    """A meter that can be replaced by itself."""

    OUTLET_PROBE = "outlet-probe"
    INLET_PROBE = "inlet-probe"
    FLOW_METER = "flow-meter"


class MeterReplaced(Event, tag="meter-replaced", frozen=True, kw_only=True):
    """A probe or the flow meter was replaced: what was learned of the old one no longer holds.

    For a flow meter: its K-factor (None: as in the site file) with its spread, and what its
    counter showed when it was fitted.
    """

    part: Part
    pulses_per_l: float | None = None
    relative_sd: float = 0.03
    shows_l: float = 0.0


class Closure(Event, tag="closure", frozen=True, kw_only=True):
    """The place is shut from `at_ms` to `until_ms`."""

    until_ms: int


class Acknowledged(Event, tag="acknowledged", frozen=True, kw_only=True):
    """A person has seen an alarm."""

    alarm: str


class Shelved(Event, tag="shelved", frozen=True, kw_only=True):
    """A person has put an alarm aside until `until_ms`, with a reason in `note`."""

    alarm: str
    until_ms: int


class Unshelved(Event, tag="unshelved", frozen=True, kw_only=True):
    """A person has taken an alarm back from the shelf before its time."""

    alarm: str


class OutOfService(Event, tag="out-of-service", frozen=True, kw_only=True):
    """A person has taken an alarm out of service until further notice, with a reason in `note`."""

    alarm: str


class InService(Event, tag="in-service", frozen=True, kw_only=True):
    """A person has put an alarm back into service."""

    alarm: str


class Commissioning(Event, tag="commissioning", frozen=True, kw_only=True):
    """Somebody works on the line from `at_ms` to `until_ms`: what he causes is no alarm."""

    until_ms: int


class RecordRescued(Event, tag="record-rescued", frozen=True, kw_only=True):
    """The site's file was damaged and set aside under this name; `saved` records were saved.

    `unread` records were found but not whole; `torn` names the tables with parts out of reach.
    """

    set_aside: str
    saved: int
    unread: int = 0
    torn: str = ""


class Withdrawn(Event, tag="withdrawn", frozen=True, kw_only=True):
    """An earlier event was a mistake."""

    withdraws: str


class Note(Event, tag="note", frozen=True, kw_only=True):
    """A remark, in `note`: something seen or done that no other kind of event tells."""


AnyEvent: TypeAlias = (
    DropTest
    | CartridgeFitted
    | BypassSet
    | KFactorSet
    | ProbeCalibrated
    | CrossZero
    | UtilityReport
    | MeterReading
    | MeterReplaced
    | Closure
    | Acknowledged
    | Shelved
    | Unshelved
    | OutOfService
    | InService
    | Commissioning
    | RecordRescued
    | Withdrawn
    | Note
)


# --- what comes out -------------------------------------------------------------------------------


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """A figure with its doubt: median, 5 % and 95 % points."""

    p50: float
    p05: float
    p95: float


class Share(msgspec.Struct, frozen=True, kw_only=True):
    """How much of the figure's certainty rests on each kind of evidence; the three sum to 1."""

    litres: float
    conductivity: float
    drop_tests: float


class Sharpener(msgspec.Struct, frozen=True, kw_only=True):
    """Something to do now, and by how many days it should narrow the 5-95 % range of days left.

    `what` is drop-test, second-probe or jug-test; a drop test says which `point` and `kind`.
    """

    what: str
    days: float
    point: str = ""
    kind: str = ""


class Remark(msgspec.Struct, frozen=True, kw_only=True):
    """Something a person should know of a figure, as a code and numbers; its words are the page's.

    `code` stays the same for ever. `which` says what it is about (a probe, a kind of hardness),
    `at_ms` when it was, `event_id` which dated fact it speaks of. `values` have their unit in their
    name.
    """

    code: str
    which: str = ""
    at_ms: int | None = None
    event_id: str = ""
    values: dict[str, float] = {}


class Estimate(msgspec.Struct, frozen=True, kw_only=True):
    """How the cartridge stands at `at_ms`, as known at `known_at_ms`.

    `remaining_l` are litres through the head to the end of the medium's capacity alone. Hardness is
    of the kind the medium works on (`target`), blended for `outlet`, behind the medium for
    `treated`.
    `used_rows[k]` is the probability that the used share exceeds (k + 0.5) / 30, k = 0..32.
    `end_ms` is the instant of the end with `ends_by` its cause: capacity, time or carbon.
    A field is None where nothing is known; `reason` then says what would help.
    """

    at_ms: int
    known_at_ms: int
    cartridge_id: str
    remaining_l: Spread | None
    used_share: Spread | None
    used_rows: tuple[float, ...]
    days_left: Spread | None
    end_ms: Spread | None
    ends_by: str
    time_limit_ms: int | None
    carbon_left_l: float | None
    outlet_mmol_l: Spread | None
    treated_mmol_l: Spread | None
    raw_mmol_l: Spread | None
    target: str
    bypass: Spread | None
    litres_passed: float
    rests_on: Share
    trusted: bool
    reason: str
    end_probability: float
    """Probability that the end of capacity has been reached."""
    change: str = ""
    """What the last step of the probes most likely was: source, bypass, exhaustion or probe."""
    change_ms: int | None = None
    change_probability: float = 0.0
    change_reason: str = ""
    sharpeners: tuple[Sharpener, ...] = ()
    """What would narrow the range of days left most, best first."""
    remarks: tuple[Remark, ...] = ()
    """What a person should know of the figure, the gravest first; `reason` is the first's code."""
    capacity_share: Spread | None = None
    """What the cartridge holds, as a share of the capacity that the site file states."""


class AlarmChange(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm moved from one state to another.

    `change` is what happened (raised, cleared, acknowledged, shelved, unshelved, suppressed,
    unsuppressed, out-of-service, in-service), `state` where the alarm stands after it, in the words
    of ISA-18.2. `text` is what a person wrote with it, `who` that person. `word` is the variant of
    the alarm, `numbers` are the figures of that instant, each with its unit in its name.
    """

    at_ms: int
    alarm: str
    change: str
    priority: str
    text: str = ""
    state: str = ""
    who: str = ""
    word: str = ""
    until_ms: int | None = None
    numbers: dict[str, float] = {}


class Forecast(msgspec.Struct, frozen=True, kw_only=True):
    """Litres expected a day: by weekday (Monday first), each with its spread as a standard
    error."""

    litres_by_weekday: tuple[float, ...]
    sd_by_weekday: tuple[float, ...]
    days_seen: tuple[int, ...]
