"""What stands under the reading mark: one block of short lines for every bin."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analytics.samples import Spread
from dashboards.history.chart import PHONE, WIDE
from dashboards.history.lanes import Axis
from dashboards.history.record import Record
from dashboards.phrases.numbers import EN_DASH
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When


def readout(record: Record, reader: Reader, when: When) -> dict[str, Any]:
    """Pixels of every bin's middle in both sizes of the drawing, its instants and its lines."""
    span = record.span
    axes = {
        size.name: Axis(from_ms=span.from_ms, to_ms=span.to_ms, width=size.plot)
        for size in (WIDE, PHONE)
    }
    found: dict[str, Any] = {
        name: np.rint(axis.xs(record.bins.middles)).astype(int).tolist()
        for name, axis in axes.items()
    }
    found["lines"] = [lines_at(record, reader, when, n) for n in range(len(record.bins))]
    found["from"], found["to"] = span.from_ms, span.to_ms
    return found


def lines_at(record: Record, reader: Reader, when: When, place: int) -> list[str]:
    """The figures of one bin, its date first; what is not known is left out."""
    start = int(record.bins.edges[place])
    lines = [_moment(record, when, start)]
    for key, trace in (("history.in", record.ec_in), ("history.out", record.ec_out)):
        mean = float(trace.mean[place])
        if math.isfinite(mean):
            lines.append(f"{reader.say(key)} {_conductivity(reader, mean)}")
            lines += _ends(float(trace.low[place]), float(trace.high[place]))
    lines += _hardness(record, reader, place)
    temp = float(record.temp.mean[place])
    if math.isfinite(temp):
        figure = reader.temperature(Spread(p50=temp, p05=temp - 0.25, p95=temp + 0.25))
        lines.append(figure.text)
    litres = float(record.litres[place])
    if math.isfinite(litres):
        half = max(0.02 * litres, 0.005)
        volume = reader.volume(Spread(p50=litres, p05=max(litres - half, 0.0), p95=litres + half))
        lines.append(reader.say("history.drawn", litres=volume.text))
    return lines


def _moment(record: Record, when: When, at_ms: int) -> str:
    day = when.brief_medium(when.day(at_ms))
    if record.bins.unit in ("day", "week"):
        return day
    return f"{day}, {when.clock(at_ms)}"


def _conductivity(reader: Reader, mean: float) -> str:
    return reader.conductivity(Spread(p50=mean, p05=mean - 2.5, p95=mean + 2.5)).text


def _ends(low: float, high: float) -> list[str]:
    """Lowest and highest, where they are not the same to a reader."""
    return [f"({low:.0f}{EN_DASH}{high:.0f})"] if round(low) != round(high) else []


def _hardness(record: Record, reader: Reader, place: int) -> list[str]:
    start, end = record.bins.edges[place], record.bins.edges[place + 1]
    inside = [s for at, s in record.hardness if start <= at < end]
    if not inside:
        return []
    figure = reader.hardness(inside[-1])
    return [f"{reader.say('history.hard')} {figure.text}", figure.bracketed]
