"""How far a line is: everything measured and typed so far, in base units."""

from __future__ import annotations

import math
from typing import Final

import msgspec

from analytics.quantities import DH_MMOL_L
from analytics.samples import Spread
from analytics.survey.site import Aim, Boilers, Material
from analytics.survey.words import Reason
from firmware_bridge.calibration.done import Done

KINDS: Final = ("hardness", "alkalinity", "calcium")
"""What is titrated by drops."""
MOST_DROPS: Final = 120
MOST_COUNTS: Final = 3


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """A step that somebody said is done: when, who, and the logbook's entries by name."""

    at_ms: int
    who: str
    entries: dict[str, str] = {}


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """One titration: whole counts so far, drops of the one that runs, or a value typed instead
    (mmol/L or meq/L)."""

    counts: tuple[int, ...] = ()
    drops: int = 0
    value: float | None = None


class Promise(msgspec.Struct, frozen=True, kw_only=True):
    """What the machine should get, by the survey, at the bypass that was taken."""

    family: str
    share: float
    hardness_mmol_l: Spread
    alkalinity_meq_l: Spread
    calcium_mmol_l: Spread
    ec25_us_cm: Spread
    ph: Spread
    chloride_mg_l: Spread
    brew_si: Spread | None = None
    in_window: float | None = None
    litres: Spread | None = None
    against: tuple[Reason, ...] = ()
    minded: tuple[Reason, ...] = ()


class Machine(msgspec.Struct, frozen=True, kw_only=True):
    """What a survey must know of the machine and its use."""

    boilers: Boilers = Boilers.BOTH
    material: Material = Material.UNKNOWN
    aim: Aim = Aim.TASTE
    low_sodium: bool = False
    litres_a_day: float | None = None


class Cartridge(msgspec.Struct, frozen=True, kw_only=True):
    """The cartridge that was fitted. Litres that passed it before: from `low_l` to `high_l`; None
    is not known."""

    serial: str = ""
    fitted_ms: int = 0
    low_l: float | None = 0.0
    high_l: float | None = 0.0

    @property
    def before(self) -> tuple[float | None, float]:
        """The middle and its standard deviation, all of a range being as likely."""
        if self.low_l is None or self.high_l is None:
            return None, 0.0
        return (self.low_l + self.high_l) / 2, (self.high_l - self.low_l) / math.sqrt(12.0)


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """What a probe said while its reading stood (not referred to 25 C); no thermometer: None."""

    us_cm: float
    us_cm_sd: float
    temp_c: float | None = None


class Zero(msgspec.Struct, frozen=True, kw_only=True):
    """Both probes (or the outlet's alone) in raw water."""

    outlet: Look
    inlet: Look | None = None


class Progress(msgspec.Struct, frozen=True, kw_only=True):
    """One line's page. `turn` grows with each change, so that a form of an old page is known as
    such; `draft` is what was typed on the step that is open."""

    line_id: str
    begun_ms: int = 0
    saved_ms: int = 0
    turn: int = 0
    here: str = "flush"
    quiet_until_ms: int = 0
    """Until here alarms are kept quiet: somebody works on the line."""
    taken: dict[str, Taken] = {}
    draft: dict[str, str] = {}
    since_ms: int = 0
    """From here on water or a jug is counted; 0: not begun."""

    flush_asked_l: float = 10.0
    flushed_l: float | None = None
    drips: bool = False
    cartridge: Cartridge = Cartridge()
    drop_mmol_l: float = DH_MMOL_L
    """Hardness that one drop stands for (of alkalinity twice as many meq/L)."""
    tallies: dict[str, Tally] = {}
    """By water and kind: "raw.hardness", "blended.alkalinity"."""
    ec25_us_cm: float | None = None
    chloride_mg_l: float | None = None
    ph: float | None = None
    machine: Machine = Machine()
    family: str = ""
    share: float | None = None
    promise: Promise | None = None
    done: Done = Done(line_id="", begun_ms=0)
    label_us_cm: float = 1413.0
    zero: Zero | None = None
    brew: bool = False
    """Jugs are drawn in a thin stream now."""
    no_brew: bool = False
    """A thin stream was passed over."""
    set_share: float | None = None
    by_test: bool = False
    """A drop test of the blended water told where to turn the head."""
    ran: Look | None = None
    back_ms: int | None = None

    def tally(self, water: str, kind: str) -> Tally:
        """The titration of this kind in raw or blended water."""
        return self.tallies.get(f"{water}.{kind}", Tally())


def begun(line_id: str, at_ms: int) -> Progress:
    """A page with nothing on it."""
    return Progress(line_id=line_id, done=Done(line_id=line_id, begun_ms=at_ms))
