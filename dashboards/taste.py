"""What a browser has chosen: units, language, light or dark."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from dashboards.phrases.language import languages
from dashboards.phrases.reader import HARDNESS_UNITS, Reader

LOOKS = ("device", "light", "dark")


class Taste(msgspec.Struct, frozen=True, kw_only=True):
    """The choices, kept in the browser's cookies; hashable, so that pages can be kept by it."""

    units: str = "dH"
    temperature: str = "degC"
    volume: str = "L"
    lang: str = "en"
    look: str = "device"

    def reader(self) -> Reader:
        """The reader with these choices."""
        return Reader(
            language=languages()[self.lang],
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
        "lang": tuple(sorted(languages())),
        "look": LOOKS,
    }


def taste_of(asked: Mapping[str, str], usual: Taste) -> Taste:
    """The usual taste with the choices that are named and allowed."""
    allowed = choices()
    named = {k: asked[k] for k in allowed if asked.get(k, "") in allowed[k]}
    return msgspec.structs.replace(usual, **named)
