"""What a person should know of a figure, in words: remarks are codes and numbers until here."""

from __future__ import annotations

from analytics.quantities import DH_MMOL_L
from analytics.samples import Estimate, Remark, Sharpener, Spread
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When

MEQ_PER_MMOL = 2.0
WORTH_DAYS = 0.5


def told(estimate: Estimate | None) -> tuple[Remark, ...]:
    """What is to be known of an estimate; one stored before there were remarks has its reason."""
    if estimate is None:
        return ()
    return estimate.remarks or ((Remark(code=estimate.reason),) if estimate.reason else ())


def remark_words(remark: Remark, reader: Reader, when: When) -> str:
    """One remark as a sentence or two; a code that no text is there for is given as it is."""
    key = f"remark.{remark.code}"
    if remark.code == "stated-use" and "litres_a_day" not in remark.values:
        key = "remark.stated-use-by-hand"
    if not reader.has(key):
        return remark.code
    return reader.say(key, **_blanks(remark, reader, when))


def sharpener_words(sharpeners: tuple[Sharpener, ...], reader: Reader) -> tuple[str, ...]:
    """What would narrow the days left most, a sentence each; less than half a day is not told."""
    said = []
    for one in sharpeners:
        key = f"sharpen.{one.what}"
        if one.days < WORTH_DAYS or not reader.has(key):
            continue
        place = "raw" if one.point == "raw" else "outlet"
        what = f"remark.what.{place}-{one.kind}"
        whole = max(round(one.days), 1)
        days = reader.say("sharpen.day" if whole == 1 else "sharpen.days", n=whole)
        what_words = reader.say(what) if reader.has(what) else ""
        said.append(reader.say(key, what=what_words, days=days))
    return tuple(said)


def _blanks(remark: Remark, reader: Reader, when: When) -> dict[str, str]:
    values, found = remark.values, dict[str, str]()
    if remark.at_ms is not None:
        found["day"] = when.medium(when.day(remark.at_ms))
        found["moment"] = when.moment(remark.at_ms)
    if remark.which and reader.has(f"remark.what.{remark.which}"):
        found["what"] = reader.say(f"remark.what.{remark.which}")
    if "factor" in values:
        found["factor"] = reader.decimal(f"{values['factor']:.2g}")
    if "hours" in values:
        found["hours"] = f"{values['hours']:.0f}"
    for name in ("litres", "litres_a_day"):
        if name in values:
            found["litres"] = _about_litres(max(values[name], 1.0), reader)
    return found | _test(values, reader)


def _about_litres(litres: float, reader: Reader) -> str:
    return reader.volume(Spread(p50=litres, p05=0.7 * litres, p95=1.3 * litres)).text


def _test(values: dict[str, float], reader: Reader) -> dict[str, str]:
    """A count of drops and what was expected; alkalinity is told in the unit of hardness."""
    unit = "meq_l" if "told_meq_l" in values else "mmol_l"
    if f"told_{unit}" not in values:
        return {}
    per = MEQ_PER_MMOL if unit == "meq_l" else 1.0
    told, low, high = (values[f"{name}_{unit}"] / per for name in ("told", "low", "high"))
    wide = max(high - low, 0.1 * DH_MMOL_L)
    figure = reader.hardness(Spread(p50=0.5 * (low + high), p05=low, p95=low + wide))
    return {
        "told": f"{reader.hardness_set(told)}{THIN}{reader.hardness_sign}",
        "range": f"{figure.joined}{THIN}{figure.unit}",
    }
