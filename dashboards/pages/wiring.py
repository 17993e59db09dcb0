"""The page Wiring: parts, places, drawings and cautions for a board of one's own."""

from __future__ import annotations

import msgspec
from markupsafe import Markup

from dashboards import wiring_drawings
from dashboards.page import Asked, Page
from dashboards.phrases.reader import Reader
from firmware_bridge.firmware.board import settings


class Pin(msgspec.Struct, frozen=True, kw_only=True):
    """A row of the table of pins."""

    name: str
    pins: str


class WiringView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    site: str
    what: str
    electric: tuple[str, ...]
    food: tuple[str, ...]
    places: Markup
    place_names: tuple[str, ...]
    probe: Markup
    probe_said: tuple[str, ...]
    others: Markup
    others_said: tuple[str, ...]
    pins: tuple[Pin, ...]


def answer(asked: Asked) -> WiringView:
    """The guide, with the pins of the program that `lastlitre firmware` writes."""
    return wiring_of(asked.reader, asked.facts.setup.name, asked.facts.setup.what)


def wiring_of(reader: Reader, site: str, what: str = "") -> WiringView:
    """The guide for a page that stands under this name."""
    front, back, adc = settings.OUTLET_PROBE
    return WiringView(
        site=site,
        what=what,
        electric=_list(reader, "wiring.electric", 4),
        food=_list(reader, "wiring.food", 4),
        places=wiring_drawings.places(reader.say),
        place_names=_list(reader, "wiring.place", 6),
        probe=wiring_drawings.probe(
            reader.say, tuple(map(_gpio, front)), _ohms(reader), _gpio(back), _gpio(adc)
        ),
        probe_said=_list(reader, "wiring.probe", 3),
        others=wiring_drawings.others(
            reader.say, _gpio(settings.OUTLET_THERMOMETER), _gpio(settings.TURBINE_1)
        ),
        others_said=_list(reader, "wiring.rest", 3),
        pins=_pins(reader),
    )


def _list(reader: Reader, key: str, count: int) -> tuple[str, ...]:
    return tuple(reader.say(f"{key}.{number}") for number in range(1, count + 1))


def _gpio(number: int) -> str:
    return f"GPIO {number}"


def _ohms(reader: Reader) -> tuple[str, ...]:
    """The resistors as they are bought: without the resistance of their pins."""
    found = [ohm - settings.PIN_OHM for ohm in settings.OHMS]
    said = (f"{ohm} Ω" if ohm < 1000 else f"{ohm / 1000:g} kΩ" for ohm in found)
    return tuple(reader.decimal(ohm) for ohm in said)


def _pins(reader: Reader) -> tuple[Pin, ...]:
    def numbers(*pins: int) -> str:
        return ", ".join(str(pin) for pin in pins)

    outlet, inlet = settings.OUTLET_PROBE, settings.INLET_PROBE
    thermometers = (settings.OUTLET_THERMOMETER, settings.INLET_THERMOMETER)
    rows = {
        "outlet": numbers(*outlet[0], outlet[1], outlet[2]),
        "inlet": numbers(*inlet[0], inlet[1], inlet[2]),
        "ohms": ", ".join(_ohms(reader)),
        "thermometers": numbers(*thermometers),
        "turbine": numbers(settings.TURBINE_1),
        "stop": numbers(settings.STOP_PIN),
    }
    return tuple(Pin(name=reader.say(f"wiring.pin.{k}"), pins=v) for k, v in rows.items())


PAGE = Page(
    path="/guide/wiring",
    title="wiring.title",
    order=80,
    template="wiring.html",
    answer=answer,
    under_more=True,
)
