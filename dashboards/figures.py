"""Live figures of a line as words: name, value, unit, range and age, or why there is none."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from analytics.samples import Spread
from analytics.setup import CapacityKind
from dashboards.phrases.reader import Figure, Reader
from dashboards.phrases.times import When
from dashboards.sources import SD_TO_5_95, LineFacts, Measured
from dashboards.state import is_old
from firmware_bridge.live import FLOW, INLET_EC25, OUTLET_EC25, OUTLET_TEMP


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A figure as it is shown. It cannot be made without value, range and age."""

    key: str
    name: str
    value: str
    range_text: str
    age: str
    old: bool = False

    def __post_init__(self) -> None:
        if not (self.name and self.value and self.range_text and self.age):
            raise ValueError(f"The figure {self.key} needs name, value, range and age.")


class Absent(msgspec.Struct, frozen=True, kw_only=True):
    """A figure that is not there, with the reason."""

    key: str
    name: str
    reason: str

    def __post_init__(self) -> None:
        if not (self.name and self.reason):
            raise ValueError(f"The missing figure {self.key} needs a reason.")


Shown = Row | Absent
HARDNESS_NAMES = {
    CapacityKind.TOTAL: "figure.outlet",
    CapacityKind.CARBONATE: "figure.alkaline",
    CapacityKind.CALCIUM: "figure.calcium",
}


def rows_of_line(line: LineFacts, reader: Reader, when: When) -> tuple[Shown, ...]:
    """The live figures: hardness, conductivity out and in, temperature, flow, today."""
    setup = line.setup
    live = (
        ("ec-out", OUTLET_EC25, setup.outlet_probe, reader.conductivity),
        ("ec-in", INLET_EC25, setup.inlet_probe, reader.conductivity),
        ("temp", OUTLET_TEMP, setup.outlet_probe, reader.temperature),
        ("flow", FLOW, setup.flow_meter, reader.flow),
    )
    shown = [_outlet(line, reader, when)]
    for key, name, fitted, write in live:
        if fitted or key != "ec-in":
            shown.append(_measured(key, line, line.live.get(name), fitted, write, reader, when))
    shown.append(_today(line, reader, when))
    return tuple(shown)


def _outlet(line: LineFacts, reader: Reader, when: When) -> Shown:
    kind = line.setup.capacity_kind
    name = reader.say(HARDNESS_NAMES[kind])
    estimate = line.estimate
    if estimate is None or estimate.outlet_mmol_l is None:
        return Absent(key="outlet", name=name, reason=reader.say("absent.no-figure"))
    figure = reader.hardness(estimate.outlet_mmol_l)
    return _row("outlet", name, figure, when.age(estimate.at_ms))


def _measured(
    key: str,
    line: LineFacts,
    found: Measured | None,
    fitted: bool,
    write: Callable[[Spread], Figure],
    reader: Reader,
    when: When,
) -> Shown:
    name = reader.say(f"figure.{key}")
    if found is None:
        reason = "absent.no-word" if fitted else "absent.no-meter"
        return Absent(key=key, name=name, reason=reader.say(reason))
    low = max(found.low, 0.0) if key != "temp" else found.low
    figure = write(Spread(p50=found.value, p05=low, p95=found.high))
    old = is_old(line, found.at_ms, when.now_ms)
    return _row(key, name, figure, when.age(found.at_ms), old=old)


def _today(line: LineFacts, reader: Reader, when: When) -> Shown:
    name = reader.say("figure.today")
    if not line.setup.flow_meter:
        return Absent(key="today", name=name, reason=reader.say("absent.no-meter"))
    today = line.days[-1] if line.days else None
    if today is None or today.litres is None or line.last_row_ms is None:
        return Absent(key="today", name=name, reason=reader.say("absent.no-word"))
    figure = reader.volume(litres_spread(today.litres, today.sd_l))
    old = is_old(line, line.last_row_ms, when.now_ms)
    return _row("today", name, figure, when.age(line.last_row_ms), old=old)


def litres_spread(litres: float, sd_l: float) -> Spread:
    """Counted litres with their range, never under zero."""
    half = SD_TO_5_95 * sd_l
    return Spread(p50=litres, p05=max(litres - half, 0.0), p95=litres + half)


def _row(key: str, name: str, figure: Figure, age: str, *, old: bool = False) -> Row:
    return Row(key=key, name=name, value=figure.text, range_text=figure.bracketed, age=age, old=old)


def live_texts(rows: tuple[Shown, ...]) -> dict[str, str]:
    """The rows as the texts a page that is open replaces, by the names in its `data-live`."""
    texts: dict[str, str] = {}
    for row in rows:
        if isinstance(row, Row):
            texts[f"{row.key}.value"] = row.value
            texts[f"{row.key}.range"] = row.range_text
            texts[f"{row.key}.age"] = row.age
    return texts


def old_keys(rows: tuple[Shown, ...]) -> list[str]:
    """The names of the ages to be written in pencil."""
    return [f"{row.key}.age" for row in rows if isinstance(row, Row) and row.old]
