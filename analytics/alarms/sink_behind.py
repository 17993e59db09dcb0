"""Rows wait to be sent and nothing gets across."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Rule, Situation


def _latest(now: Situation) -> tuple[str, float]:
    late = {} if now.host is None else now.host.sinks_late_s
    return max(late.items(), key=lambda pair: (pair[1], pair[0]), default=("", 0.0))


def _excess(now: Situation) -> float | None:
    return None if now.host is None else _latest(now)[1] - now.host.limits.sink_late_s


def _numbers(now: Situation) -> dict[str, float]:
    return {"hours": _latest(now)[1] / HOUR_S}


def _word(now: Situation) -> str:
    return _latest(now)[0]


RULE = Rule(
    name="sink-behind",
    priority=Priority.LOW,
    respond_within_s=3 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    word=_word,
    off_delay_s=600.0,
    of_site=True,
    must_be_seen=False,
)
