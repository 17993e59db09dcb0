"""What is drawn on the plane of hardness and alkalinity, in the reader's unit."""

from __future__ import annotations

import math

import msgspec

from analytics.quantities import ALKALINITY, HARDNESS
from analytics.samples import Spread
from analytics.survey.case import Figures
from analytics.survey.given import Reading
from analytics.survey.judge import Candidate
from analytics.survey.plan import Survey
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.survey_words import alkalinity_words, family_words, hardness_words

Point = tuple[float, float]
ROOM = 1.18
STEPS = (0.1, 0.2, 0.5, 1, 2, 4, 5, 10, 20, 40, 50, 100, 200, 400, 500, 1000)


class Scene(msgspec.Struct, frozen=True, kw_only=True):
    """Points (hardness, alkalinity) and words. `slope` is alkalinity over hardness where both are
    one in equivalents. `share` is the bypass, None where there is none to set."""

    unit: str
    most: Point
    slope: float
    window_low: Point
    window_high: Point
    raw: Point
    raw_box: tuple[Point, Point]
    raw_words: tuple[str, str]
    guessed: bool
    treated: Point | None
    blended: Point | None
    stretch: tuple[Point, Point]
    words: tuple[str, str]
    name: str
    family: str
    share: float | None
    ticked: bool
    same: bool

    def ticks(self, axis: int) -> list[float]:
        """Four to seven round values along an axis."""
        most = self.most[axis]
        step = next((s for s in STEPS if most / s <= 6), STEPS[-1])
        return [n * step for n in range(math.floor(most / step + 1e-9) + 1)]


class _Scale(msgspec.Struct, frozen=True, kw_only=True):
    reader: Reader

    def hard(self, mmol_l: float) -> float:
        return HARDNESS.from_base(mmol_l, self.reader.hardness_unit)

    def alk(self, meq_l: float) -> float:
        return ALKALINITY.from_base(meq_l, self.reader.hardness_unit)

    def point(self, water: Figures) -> Point:
        return self.hard(water.hardness_mmol_l.p50), self.alk(water.alkalinity_meq_l.p50)

    def words(self, water: Figures) -> tuple[str, str]:
        hard = hardness_words(water.hardness_mmol_l.p50, self.reader)
        alk = alkalinity_words(water.alkalinity_meq_l.p50, self.reader)
        return hard.split(THIN)[0], alk


def scene_of(found: Survey, reader: Reader) -> Scene:
    """The scene of the best candidate."""
    to = _Scale(reader=reader)
    best, window, raw = found.best, found.window, found.raw
    mixed = best.blended
    low = (to.hard(window.hardness_mmol_l.floor), to.alk(window.alkalinity_meq_l.floor))
    high = (to.hard(window.hardness_mmol_l.ceiling), to.alk(window.alkalinity_meq_l.ceiling))
    known = found.given.known()
    box = (
        _ends(known.get("hardness_mmol_l"), raw.hardness_mmol_l, to.hard),
        _ends(known.get("alkalinity_meq_l"), raw.alkalinity_meq_l, to.alk),
    )
    treated = _treated(best, raw, to)
    share = best.bypass.share if best.bypass else None
    return Scene(
        unit=reader.hardness_sign,
        most=(ROOM * max(box[0][1], high[0]), ROOM * max(box[1][1], high[1])),
        slope=to.alk(2.0) / to.hard(1.0),
        window_low=low,
        window_high=high,
        raw=to.point(raw),
        raw_box=box,
        raw_words=to.words(raw),
        guessed=not {"hardness_mmol_l", "alkalinity_meq_l"} <= set(known),
        treated=treated,
        blended=None if mixed is None else to.point(mixed),
        stretch=_stretch(mixed or raw, to),
        words=to.words(mixed or raw),
        name=_name(best, reader),
        family=family_words(best, reader),
        share=share,
        ticked=share is not None,
        same=best.family in ("carbon", "polyphosphate"),
    )


def _ends(reading: Reading | None, figure: Spread, to: object) -> Point:
    """A drop's two ends, or the 5 and 95 % points of anything else."""
    convert = to if callable(to) else float
    if reading is not None and reading.step > 0:
        return convert(max(reading.value - reading.step, 0.0)), convert(reading.value)
    return convert(figure.p05), convert(figure.p95)


def _treated(best: Candidate, raw: Figures, to: _Scale) -> Point | None:
    """Water behind the bed alone: the other end of the bypass line."""
    if best.blended is None or best.family in ("carbon", "polyphosphate"):
        return None
    share = best.bypass.share if best.bypass else 0.0
    mixed, start = to.point(best.blended), to.point(raw)
    pairs = zip(mixed, start, strict=True)
    hardness, alkalinity = (max((m - share * r) / (1 - share), 0.0) for m, r in pairs)
    return hardness, alkalinity


def _stretch(water: Figures, to: _Scale) -> tuple[Point, Point]:
    h, a = water.hardness_mmol_l, water.alkalinity_meq_l
    return (to.hard(h.p05), to.alk(a.p05)), (to.hard(h.p95), to.alk(a.p95))


def _name(best: Candidate, reader: Reader) -> str:
    if best.bypass is not None and best.bypass.share > 0:
        return reader.say("plane.blended", share=reader.share(best.bypass.share))
    return reader.say("plane.treated")
