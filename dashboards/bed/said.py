"""The bed profile in four sentences, for whoever cannot see it and as its caption in print."""

from __future__ import annotations

from analytics.bed import exchanges
from analytics.samples import DAY_MS, Estimate, Spread
from dashboards.bed.ruler import YEAR
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.sources import LineFacts
from dashboards.state import State, is_past


def description(line: LineFacts, state: State, reader: Reader, when: When) -> str:
    """What is spent; where the front is; what is fresh; the end and the bypass."""
    estimate = line.estimate
    used = estimate.used_share if estimate else None
    left = estimate.remaining_l if estimate else None
    if not exchanges(line.setup.medium):
        return _without_bed(line, reader, when)
    if estimate is None or used is None or left is None:
        return reader.say("bed.said.unknown")
    sentences = (
        _spent(line, estimate, used, reader, when),
        _front(used, reader),
        _fresh(left, is_past(estimate, when.now_ms), reader),
        _end(estimate, reader, when),
    )
    return " ".join(sentences) + _remarks(line, state, reader, when)


def _without_bed(line: LineFacts, reader: Reader, when: When) -> str:
    said = reader.say("bed.said.no-bed", kind=reader.say(f"bed.no-bed.{line.setup.medium}"))
    return f"{said} {_end(line.estimate, reader, when)}" if line.estimate else said


def _spent(line: LineFacts, estimate: Estimate, used: Spread, reader: Reader, when: When) -> str:
    passed = reader.passed(estimate.litres_passed)
    if line.fitted_ms is None:
        since = reader.say("bed.said.passed", litres=passed)
    else:
        day = when.long(when.day(line.fitted_ms))
        since = reader.say("bed.said.since", litres=passed, day=day)
    return reader.say("bed.said.spent", used=reader.share(used.p50), since=since)


def _front(used: Spread, reader: Reader) -> str:
    left, low, high = (reader.share(1 - u) for u in (used.p50, used.p95, used.p05))
    return reader.say("bed.said.front", left=left, low=low, high=high)


def _fresh(left: Spread, past: bool, reader: Reader) -> str:
    figure = reader.volume(left)
    litres = reader.volume_words(figure)
    if past:
        return reader.say("bed.said.past", high=f"{figure.high} {figure.unit}")
    return reader.say("bed.said.fresh", litres=litres, low=figure.low, high=figure.high)


def _end(estimate: Estimate, reader: Reader, when: When) -> str:
    said = _end_day(estimate, reader, when)
    if estimate.bypass is None or estimate.bypass.p50 < 0.005:
        return f"{said}."
    return said + reader.say("bed.said.round", share=reader.share(estimate.bypass.p50))


def _end_day(estimate: Estimate, reader: Reader, when: When) -> str:
    end = estimate.end_ms
    if end is None:
        return reader.say("bed.said.end-none")
    first, likely, last = (when.day(at) for at in (end.p05, end.p50, end.p95))
    day = when.long(likely)
    if estimate.ends_by in ("time", "carbon"):
        return reader.say(f"bed.said.end-{estimate.ends_by}", day=day)
    if is_past(estimate, when.now_ms):
        return reader.say("bed.said.end-past", day=day)
    if end.p50 - when.now_ms > YEAR * DAY_MS:
        return reader.say("bed.said.end-long")
    if first == last:
        return reader.say("bed.said.end-one", day=day)
    return reader.say("bed.said.end", day=day, range=when.days_range(first, last))


def _remarks(line: LineFacts, state: State, reader: Reader, when: When) -> str:
    out = ""
    if state is State.SILENT and line.last_row_ms is not None:
        out += reader.say("bed.said.stale", moment=when.moment(line.last_row_ms))
    if not line.sees_medium:
        out += reader.say("bed.said.blind")
    return out
