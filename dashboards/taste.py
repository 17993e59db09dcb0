"""What a browser has chosen: units, language, light or dark."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from analytics.errors import ConfigError
from dashboards.phrases.language import FALLBACK, chosen, codes, language
from dashboards.phrases.reader import HARDNESS_UNITS, Reader

LOOKS = ("device", "light", "dark")
LONGEST_HEADER = 500


class Taste(msgspec.Struct, frozen=True, kw_only=True):
    """The choices, kept in the browser's cookies; hashable, so that pages can be kept by it."""

    units: str = "dH"
    temperature: str = "degC"
    volume: str = "L"
    lang: str = FALLBACK
    look: str = "device"

    def reader(self) -> Reader:
        """The reader with these choices."""
        return Reader(
            language=language(self.lang),
            hardness_unit=self.units,
            temperature_unit=self.temperature,
            volume_unit=self.volume,
        )


def choices() -> dict[str, tuple[str, ...]]:
    """What each part of a taste may be."""
    return {
        "units": HARDNESS_UNITS,
        "temperature": ("degC", "degF"),
        "volume": ("L", "gal"),
        "lang": codes(),
        "look": LOOKS,
    }


def taste_of(asked: Mapping[str, str], usual: Taste, languages: str = "") -> Taste:
    """The usual taste with the choices that are named and allowed; where no language is named, the
    first the browser asks for (`languages`, as in Accept-Language) that there is."""
    allowed = choices()
    named = {k: asked[k] for k in allowed if asked.get(k, "") in allowed[k]}
    return msgspec.structs.replace(
        usual, **{"lang": chosen(_by_weight(languages), usual.lang)} | named
    )


def usual_taste(lang: str) -> Taste:
    """What a reader gets who has chosen nothing, by the language of the site file.

    Raises ConfigError where there are no texts in it.
    """
    if lang not in codes():
        there = ", ".join(codes())
        raise ConfigError([f"site.language: there are no texts in {lang!r}. There is: {there}."])
    return Taste(lang=lang)


def _by_weight(languages: str) -> list[str]:
    """The languages of an Accept-Language header, the best liked first (RFC 9110, 12.5.4)."""
    found = []
    for part in languages[:LONGEST_HEADER].split(","):
        code, _, weight = part.partition(";q=")
        try:
            liked = float(weight or 1)
        except ValueError:
            continue
        if liked > 0:
            found.append((-liked, code.strip()))
    return [code for _, code in sorted(found, key=lambda pair: pair[0])]
