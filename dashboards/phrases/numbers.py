"""Figures as text: digits by the width of the range, thin spaces, ranges.

Digits: the step of the last digit is at most a fifth and at least a fiftieth of the range's
width. Litres take steps of 1, 2 or 5 so that two to three figures stand; everything else steps in
powers of ten.
"""

from __future__ import annotations

import math

import msgspec

from analytics.errors import ModelError

THIN = "\u202f"
"""Narrow no-break space: between a number and its unit, and in thousands."""
EN_DASH = "\u2013"
MINUS = "\u2212"


class NumberForm(msgspec.Struct, frozen=True, kw_only=True):
    """How a language writes a number."""

    decimal: str = "."
    thousands: str = THIN
    range_word: str = "to"


class Written(msgspec.Struct, frozen=True, kw_only=True):
    """A figure and its range as text, all three with the same digits."""

    value: str
    low: str
    high: str
    joined: str
    """The range as one text: "6.6-7.5" with an en dash, or "-2 to 3" where a side is negative."""


def step_for(width: float) -> float:
    """The power of ten between a fiftieth and a fifth of a range's width."""
    return 10.0 ** math.floor(math.log10(width / 5) + 1e-9)


def litre_step(value: float, width: float) -> float:
    """1, 2 or 5 times a power of ten within the rule of the width, for two to three figures.

    Whole numbers are kept whole where the rule allows it.
    """
    size = 10.0 ** math.floor(math.log10(max(abs(value), 1.0)))
    wanted = max(width / 50, min(max(size / 100, 1.0), width / 5))
    tens = 10.0 ** math.floor(math.log10(wanted) + 1e-9)
    steps = [s * tens for s in (1, 2, 5, 10)]
    fine = next(s for s in steps if s >= wanted * (1 - 1e-9))
    return fine if fine <= width / 5 else max(s for s in (tens, *steps) if s <= width / 5)


def decimal_text(value: float, step: float, form: NumberForm) -> str:
    """The value rounded to a multiple of `step`."""
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    rounded = round(value / step) * step
    text = f"{abs(rounded):,.{digits}f}"
    text = text.replace(",", "\0").replace(".", form.decimal).replace("\0", form.thousands)
    negative = rounded < 0 and any(c in "123456789" for c in text)
    return MINUS + text if negative else text


def signed_text(value: float, step: float, form: NumberForm) -> str:
    """The value rounded to a multiple of `step`, with its sign, as an index is written."""
    text = decimal_text(value, step, form)
    return text if text.startswith(MINUS) else f"+{text}"


def written(
    p50: float,
    p05: float,
    p95: float,
    form: NumberForm,
    *,
    litres: bool = False,
    last_step: float = 0.0,
) -> Written:
    """A figure with its range; where that has no width, digits go down to `last_step`.

    Raises ModelError where the range is empty, upside down or not finite: a figure without a range
    is not shown.
    """
    width = p95 - p05 if p95 - p05 > last_step / 10 else 5 * last_step
    if not (p05 <= p50 <= p95 and 0 < width < math.inf):
        raise ModelError(
            f"A figure of {p50} has no range ({p05} to {p95}).",
            "Give every figure its 5 % and 95 % points.",
        )
    step = litre_step(p50, width) if litres else step_for(width)
    low, high = decimal_text(p05, step, form), decimal_text(p95, step, form)
    return Written(
        value=decimal_text(p50, step, form), low=low, high=high, joined=range_text(low, high, form)
    )


def range_text(low: str, high: str, form: NumberForm) -> str:
    """Two ends as one text."""
    worded = low.startswith(MINUS) or high.startswith(MINUS) or " " in low + high
    return f"{low} {form.range_word} {high}" if worded else f"{low}{EN_DASH}{high}"


def percent(share: float) -> str:
    """A chance or share in whole per cent; outside 1-99 as "<1 %" and ">99 %"."""
    number = share * 100
    if number < 0.5:
        text = "<1"
    elif number > 99.5:
        text = ">99"
    else:
        text = str(min(max(round(number), 1), 99))
    return f"{text}{THIN}%"
