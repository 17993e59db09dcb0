"""The drawings of the wiring guide: where things sit, one probe, a thermometer and a turbine."""

from __future__ import annotations

from collections.abc import Callable

from markupsafe import Markup, escape

from dashboards.bed.svg import line, path, rect, text

WIDTH = 340
Say = Callable[[str], str]


def _svg(height: int, label: str, *pieces: str) -> Markup:
    body = "".join(pieces)
    return Markup(
        f'<svg width="{WIDTH}" height="{height}" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="{escape(label)}">{body}</svg>'
    )


def _resistor(x: float, y: float) -> str:
    """A resistor lying from x to x + 40."""
    return rect("plain-box", x, y - 6, 40, 12)


def _dot(x: float, y: float) -> str:
    return path("joint", f"M{x - 3.5} {y}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0")


def _number(x: float, y: float, number: int) -> str:
    return text(x, y, str(number), "em mid")


def places(say: Say) -> Markup:
    """The pipe with its meters, and the board above it."""
    pipe = rect("water-area", 8, 196, 324, 24) + line("water-edge", 8, 196, 332, 196)
    pipe += line("water-edge", 8, 220, 332, 220) + path("arrow", "M20 208H38m-6-5l6 5l-6 5")
    head = rect("plain-box", 168, 186, 48, 44) + rect("plain-box", 174, 230, 36, 66)
    around = path("water-edge", "M160 196V168H224V196")
    valve = path("wire", "M52 198L68 218V198L52 218Z")
    turbine = path("plain-box", "M84 208a13 13 0 1 0 26 0a13 13 0 1 0 -26 0")
    turbine += path("wire", "M88 199L106 217M106 199L88 217")
    probes = "".join(
        rect("plain-box", x - 7, 178, 14, 18) + line("electrode", x - 3, 196, x - 3, 213)
        + line("electrode", x + 3, 196, x + 3, 213)
        for x in (138, 250)
    )  # fmt: skip
    machine = rect("plain-box", 290, 178, 42, 60)
    board = rect("day-box", 70, 24, 190, 46) + text(165, 52, say("wiring.board"), "em mid")
    cables = "".join(
        path("wire", f"M{x} {y}V112q0 12 -6 12t-6 -12V70") for x, y in ((97, 195), (138, 178))
    ) + path("wire", "M250 178V112q0 12 -6 12t-6 -12V70")
    host = path("wire", "M260 46H332") + text(332, 16, say("wiring.to-host"), "dim end-at")
    zones = path("ticks", "M8 146H84M110 146H124M144 146H238M256 146H332")
    zones += text(8, 138, say("wiring.dry"), "dim") + text(8, 164, say("wiring.wet"), "dim")
    numbers = "".join(
        _number(x, y, number)
        for number, (x, y) in enumerate(
            ((60, 242), (97, 242), (138, 242), (192, 270), (250, 242), (311, 214)), 1
        )
    )
    return _svg(
        304,
        say("wiring.places-drawn"),
        pipe, around, head, valve, turbine, probes, machine, board, cables, host, zones, numbers,
    )  # fmt: skip


def probe(say: Say, pins: tuple[str, ...], ohms: tuple[str, ...], back: str, adc: str) -> Markup:
    """One probe: three reference resistors to a joint, ADC, cell, far pin."""
    pieces = [rect("day-box", 4, 10, 92, 230), text(50, 232, say("wiring.board"), "mid")]
    for place, (pin, ohm) in enumerate(zip(pins, ohms, strict=True)):
        y = 34 + 40 * place
        pieces += [
            text(90, y + 5, pin, "end-at"),
            line("wire", 96, y, 120, y),
            _resistor(120, y),
            line("wire", 160, y, 206, y),
            text(140, y - 11, ohm, "dim mid"),
        ]
    pieces += [
        line("wire", 206, 34, 206, 162),
        _dot(206, 74),
        _dot(206, 114),
        path("wire", "M96 162H206"),
        text(90, 167, adc, "end-at"),
        rect("water-area", 246, 92, 84, 84),
        path("wire", "M206 114H262"),
        line("electrode", 262, 106, 262, 162),
        line("electrode", 306, 106, 306, 162),
        text(284, 138, say("wiring.cell"), "mid"),
        path("wire", "M306 162V202H96"),
        text(90, 207, back, "end-at"),
    ]
    return _svg(246, say("wiring.probe-drawn"), *pieces)


def others(say: Say, thermometer: str, turbine: str) -> Markup:
    """A thermometer with its pull-up, and a turbine."""
    pieces = [rect("day-box", 4, 10, 92, 226), text(50, 130, say("wiring.board"), "mid")]
    for y, words in ((32, say("wiring.supply")), (66, thermometer), (100, "GND")):
        pieces += [text(90, y + 5, words, "end-at"), line("wire", 96, y, 214, y)]
    pieces += [
        rect("plain-box", 214, 20, 112, 92),
        text(270, 71, say("wiring.thermometer"), "mid"),
        line("wire", 140, 32, 140, 38),
        rect("plain-box", 134, 38, 12, 22),
        line("wire", 140, 60, 140, 66),
        _dot(140, 32),
        _dot(140, 66),
        text(152, 54, say("wiring.pull-up"), "dim"),
    ]
    for y, words in ((150, "5 V"), (184, turbine), (218, "GND")):
        pieces += [text(90, y + 5, words, "end-at"), line("wire", 96, y, 214, y)]
    pieces += [rect("plain-box", 214, 138, 112, 92), text(270, 189, say("wiring.turbine"), "mid")]
    return _svg(246, say("wiring.rest-drawn"), *pieces)
