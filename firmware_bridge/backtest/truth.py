"""What really happened in a recorded life: read for scoring, never shown to the estimator."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from analytics.quantities import DH_MMOL_L
from analytics.samples import HOUR_MS, Floats, Ints
from firmware_bridge.backtest.faults import TruthError

_AS_IT_CAME = "Leave truth.json as it came with the recording, or take it away."


class Happening(msgspec.Struct, frozen=True, kw_only=True):
    """A dated event of the truth. `optional` ones need not be named."""

    kind: str
    start_ms: int
    end_ms: int | None = None
    note: str = ""
    optional: bool = False


class Truth(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """True litres to the end, the instant of the end, and the hourly course of the water.

    `end_ms` is None where the end lies beyond the recording. `hour_ms` are the instants of the
    hourly course; hardness is of the medium's kind in mmol/L behind the filter head.
    """

    name: str
    medium: str
    pair: bool
    total_l: float
    end_ms: int | None
    begin_ms: int
    days: float
    hour_ms: Ints
    litres: Floats
    outlet_mmol_l: Floats
    raw_mmol_l: Floats
    happenings: tuple[Happening, ...]

    @property
    def layout(self) -> str:
        """The probes, in one word."""
        return "pair" if self.pair else "outlet"

    def litres_at(self, at_ms: Floats | Ints) -> Floats:
        """True litres through the head at these instants."""
        return np.interp(np.asarray(at_ms, dtype=np.float64), self.hour_ms, self.litres)

    def when_left(self, share: float) -> int | None:
        """The instant at which this share of the total is left; None beyond the recording."""
        passed = (1.0 - share) * self.total_l
        if passed > float(self.litres[-1]):
            return None
        place = int(np.searchsorted(self.litres, passed, side="left"))
        low = max(place - 1, 0)
        span = max(float(self.litres[place] - self.litres[low]), 1e-9)
        part = min(max((passed - float(self.litres[low])) / span, 0.0), 1.0)
        return int(self.hour_ms[low] + part * (self.hour_ms[place] - self.hour_ms[low]))


def read_truth(path: Path) -> Truth:
    """The truth of one recorded life. Raises TruthError where the file is no truth."""
    try:
        raw = msgspec.json.decode(path.read_bytes())
        return _truth(path.parent.name, raw)
    except (OSError, msgspec.DecodeError) as trouble:
        raise TruthError(f"{path}: cannot be read: {trouble}", _AS_IT_CAME) from trouble
    except (KeyError, TypeError, ValueError) as trouble:
        problem = f"{path}: {trouble!r} is missing or of another kind"
        raise TruthError(problem, _AS_IT_CAME) from trouble


def _truth(name: str, raw: dict[str, Any]) -> Truth:
    hourly = raw["hourly"]
    begin = instant_ms(hourly["start"])
    litres = np.array(hourly["litres"], dtype=np.float64)
    end = raw["breakthrough"]
    return Truth(
        name=name,
        medium=raw["medium"],
        pair=raw["layout"] != "outlet",
        total_l=float(raw["true_total_litres"]),
        end_ms=instant_ms(end["time"]) if end["within_record"] else None,
        begin_ms=begin,
        days=float(raw["days"]),
        hour_ms=begin + np.arange(len(litres), dtype=np.int64) * HOUR_MS,
        litres=litres,
        outlet_mmol_l=np.array(hourly["outlet_hardness_dH"]) * DH_MMOL_L,
        raw_mmol_l=np.array(hourly["raw_hardness_dH"]) * DH_MMOL_L,
        happenings=tuple(_happening(each) for each in raw.get("events", ())),
    )


def _happening(raw: dict[str, Any]) -> Happening:
    end = raw.get("end")
    return Happening(
        kind=raw["kind"],
        start_ms=instant_ms(raw["start"]),
        end_ms=None if end is None else instant_ms(end),
        note=str(raw.get("note", "")),
        optional=bool(raw.get("optional", False)),
    )


def instant_ms(text: str) -> int:
    """Milliseconds of an instant written with its offset."""
    return round(datetime.fromisoformat(text).timestamp() * 1000)
