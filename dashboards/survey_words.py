"""What a survey says, in words: reasons, cautions and doubts are codes and numbers until here.

The end of a value's name is its unit and says how it is written: `found_mmol_l` fills the blank
`found` with a hardness in the reader's unit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from analytics.medium import Caution
from analytics.quantities import ALKALINITY, HARDNESS, Quantity
from analytics.survey.doubt import Doubt
from analytics.survey.judge import Candidate
from analytics.survey.words import Reason
from dashboards.phrases.numbers import THIN, decimal_text, signed_text
from dashboards.phrases.reader import Reader

Write = Callable[[float, Reader], str]


def reason_words(reason: Reason, reader: Reader) -> str:
    """A reason as one or more sentences, or as part of one."""
    parts = [reason_words(part, reader) for part in reason.parts]
    key = _key(f"survey.{reason.code}", reason)
    blanks = _figures(reason, reader)
    for blank, fields in reason.names.items():
        blanks[blank] = joined([field_name(field, reader) for field in fields], reader)
    if "{parts}" in reader.language.texts[key]:
        return reader.say(key, parts=joined(parts, reader), **blanks)
    return " ".join([reader.say(key, **blanks), *parts])


def caution_words(caution: Caution, reader: Reader) -> str:
    """A caution of a medium, or of any fitting, as a sentence or two."""
    return reader.say(_key(f"caution.{caution.code}", caution), **_figures(caution, reader))


def doubt_words(doubt: Doubt, reader: Reader) -> str:
    """What contradicts what, why, and what to do."""
    mends = [reader.say(f"survey.mend.{mend}") for mend in doubt.mends]
    return " ".join([reason_words(doubt.says, reader), *mends])


def family_words(candidate: Candidate, reader: Reader) -> str:
    """The family as it stands within a sentence."""
    return reader.say(f"family.{candidate.family}")


def family_first(candidate: Candidate, reader: Reader) -> str:
    """The family at the start of a sentence."""
    words = family_words(candidate, reader)
    return words[:1].upper() + words[1:]


def field_name(field: str, reader: Reader) -> str:
    """What a test finds, by its field."""
    return reader.say(f"survey.name.{field.split('_')[0]}")


def joined(parts: Iterable[str], reader: Reader) -> str:
    """ "a, b and c"."""
    *most, last = parts
    if not most:
        return last
    return reader.say("survey.and", first=", ".join(most), last=last)


def of_hundred(share: float, reader: Reader) -> str:
    """A chance as cases of a hundred."""
    return reader.say("survey.cases", n=min(max(round(100 * share), 0), 100))


def with_unit(value: float, digits: int, unit: str, reader: Reader) -> str:
    """A bare figure with its unit."""
    text = decimal_text(value, 10.0**-digits, reader.language.numbers)
    return f"{text}{THIN}{unit}" if unit else text


def hardness_words(mmol_l: float, reader: Reader) -> str:
    """A hardness (total, calcium, carbonate) without range."""
    return _written(mmol_l, HARDNESS, reader)


def alkalinity_words(meq_l: float, reader: Reader) -> str:
    """An alkalinity without range, in the unit of hardness."""
    return _written(meq_l, ALKALINITY, reader)


def short(value: float, reader: Reader) -> str:
    """A set figure with as few digits as it needs."""
    return reader.decimal(f"{value:g}")


def _written(value: float, quantity: Quantity, reader: Reader) -> str:
    unit = quantity.unit(reader.hardness_unit)
    return with_unit(quantity.from_base(value, unit.name), unit.digits, unit.sign, reader)


def _key(key: str, said: Caution) -> str:
    return f"{key}.{said.variant}" if said.variant else key


def _figures(said: Caution, reader: Reader) -> dict[str, str]:
    return dict(_figure(name, value, reader) for name, value in said.values.items())


def _figure(name: str, value: float, reader: Reader) -> tuple[str, str]:
    for end, write in WRITTEN.items():
        if name.endswith(end):
            return name.removesuffix(end), write(value, reader)
    raise ValueError(f"{name}: no unit says how it is written.")


def _plain(unit: str, digits: int = 0) -> Write:
    return lambda value, reader: with_unit(value, digits, unit, reader)


WRITTEN: Final[dict[str, Write]] = {
    "_amount_mmol_l": _plain("mmol/L", 2),
    "_amount_meq_l": _plain("meq/L", 1),
    "_mmol_l": hardness_words,
    "_meq_l": alkalinity_words,
    "_mg_l": _plain("mg/L"),
    "_us_cm": _plain("µS/cm"),
    "_share": lambda value, reader: reader.share(value),
    "_pct": _plain("%", 1),
    "_chance": of_hundred,
    "_ph": _plain("", 1),
    "_si": lambda value, reader: signed_text(value, 0.1, reader.language.numbers),
    "_c": lambda value, reader: reader.degrees(value),
    "_times": short,
}
"""How a value is written, by the end of its name; the longer ends first."""
