"""An alarm in words: what it says, why, what it leads to, what to do and by when."""

from __future__ import annotations

from collections.abc import Callable
from string import Formatter

import msgspec

from analytics.alarm import rules
from analytics.samples import AlarmChange, Spread
from dashboards.phrases.numbers import THIN, decimal_text
from dashboards.phrases.reader import Reader

HOUR_S, DAY_S = 3600.0, 86_400.0
MEQ_TO_MMOL = 0.5
"""Alkalinity as the hardness it can bind."""

Numbers = dict[str, float]


class AlarmWords(msgspec.Struct, frozen=True, kw_only=True):
    """What a person is told of an alarm; `figures` may be empty."""

    title: str
    figures: str
    cause: str
    consequence: str
    do: str
    within: str

    @property
    def told(self) -> str:
        """What it says, with its figures."""
        return f"{self.title} {self.figures}".strip()


def alarm_words(change: AlarmChange, reader: Reader) -> AlarmWords:
    """A change of an alarm in this reader's words and units; one without texts says its name."""
    key = f"alarm.{change.alarm}"
    if not reader.has(key):
        title = change.text or change.alarm
        return AlarmWords(title=title, figures="", cause="", consequence="", do="", within="")
    variant = f"{key}.{change.word}"
    return AlarmWords(
        title=reader.say(variant if change.word and reader.has(variant) else key),
        figures=_figures(f"{key}.figures", change.numbers, reader),
        cause=reader.say(f"{key}.cause"),
        consequence=reader.say(f"{key}.consequence"),
        do=reader.say(f"{variant}.do" if reader.has(f"{variant}.do") else f"{key}.do"),
        within=_within(change.alarm, reader),
    )


def _figures(key: str, numbers: Numbers, reader: Reader) -> str:
    """The sentence of the figures; empty where there is none or a figure is not known."""
    if not reader.has(key):
        return ""
    blanks = [name for _, name, _, _ in Formatter().parse(reader.language.texts[key]) if name]
    said = {name: BLANKS[name](numbers, reader) for name in blanks}
    if any(text is None for text in said.values()):
        return ""
    return reader.say(key, **{name: text for name, text in said.items() if text is not None})


def _within(alarm: str, reader: Reader) -> str:
    """By when to respond."""
    seconds = next((rule.respond_within_s for rule in rules() if rule.name == alarm), DAY_S)
    days = seconds >= DAY_S
    count = round(seconds / (DAY_S if days else HOUR_S))
    key = ("within.day" if days else "within.hour") + ("s" if count > 1 else "")
    return reader.say(key, n=reader.count_word(count))


Blank = Callable[[Numbers, Reader], str | None]


def _spread(numbers: Numbers, name: str) -> Spread | None:
    parts = [numbers.get(f"{name}_{part}") for part in ("p50", "p05", "p95")]
    p50, p05, p95 = parts
    if p50 is None or p05 is None or p95 is None:
        return None
    return Spread(p50=p50, p05=p05, p95=p95)


def _hardness(name: str) -> Blank:
    def say(numbers: Numbers, reader: Reader) -> str | None:
        spread = _spread(numbers, name)
        return None if spread is None else reader.hardness(spread).full

    return say


def _set_hardness(name: str, factor: float = 1.0) -> Blank:
    def say(numbers: Numbers, reader: Reader) -> str | None:
        value = numbers.get(name)
        if value is None:
            return None
        return f"{reader.hardness_set(value * factor)}{THIN}{reader.hardness_sign}"

    return say


def _plain(name: str, unit: str, step: float = 1.0, factor: float = 1.0) -> Blank:
    def say(numbers: Numbers, reader: Reader) -> str | None:
        value = numbers.get(name)
        if value is None:
            return None
        text = decimal_text(value * factor, step, reader.language.numbers)
        return f"{text}{THIN}{unit}" if unit else text

    return say


def _left(numbers: Numbers, reader: Reader) -> str | None:
    spread = _spread(numbers, "remaining_l")
    return None if spread is None else reader.volume(spread).full


def _days(numbers: Numbers, reader: Reader) -> str | None:
    spread = _spread(numbers, "days_left")
    if spread is None:
        return _plain("days", "")(numbers, reader)
    written = reader.days(spread)
    return f"{written.value} ({written.joined})"


def _chance(numbers: Numbers, reader: Reader) -> str | None:
    value = numbers.get("end_probability")
    return None if value is None else reader.chance(value)


def _bypass(numbers: Numbers, reader: Reader) -> str | None:
    spread = _spread(numbers, "bypass")
    if spread is None:
        return None
    low, high = reader.share(spread.p05), reader.share(spread.p95)
    return f"{reader.share(spread.p50)} ({low}–{high})"


def _set_share(numbers: Numbers, reader: Reader) -> str | None:
    value = numbers.get("bypass_set")
    return None if value is None else reader.share(value)


def _temperature(name: str) -> Blank:
    def say(numbers: Numbers, reader: Reader) -> str | None:
        value = numbers.get(name)
        if value is None:
            return None
        return reader.temperature(Spread(p50=value, p05=value - 0.5, p95=value + 0.5)).text

    return say


BLANKS: dict[str, Blank] = {
    "outlet": _hardness("outlet_mmol_l"),
    "raw": _hardness("raw_mmol_l"),
    "limit": _set_hardness("limit_mmol_l"),
    "hardness": _set_hardness("hardness_mmol_l"),
    "alkalinity": _set_hardness("alkalinity_meq_l", MEQ_TO_MMOL),
    "chance": _chance,
    "left": _left,
    "days": _days,
    "bypass": _bypass,
    "set": _set_share,
    "si": _plain("si", "", 0.1),
    "ph": _plain("ph", "", 0.1),
    "temp": _temperature("temp_c"),
    "limit_temp": _temperature("limit_c"),
    "hours": _plain("hours", ""),
    "flush": _plain("flush_l", "L"),
    "litres": _plain("litres_last_hour", "L", 0.1),
    "flow": _plain("flow_l_min", "L/min", 0.1),
    "limit_flow": _plain("limit_l_min", "L/min", 0.1),
    "minutes": _plain("limit_s", "", 1.0, 1 / 60),
    "free": _plain("free_mb", "MB"),
}
"""What fills the blanks of a sentence of figures, from the numbers of a change."""
