"""A line with one alarm that nobody has seen and one that somebody has."""

from __future__ import annotations

import msgspec

from analytics.samples import AlarmChange
from tests.dashboards.specimens import NOW_MS, line, site

RAISED = AlarmChange(
    at_ms=NOW_MS - 7_200_000,
    alarm="breakthrough",
    change="raised",
    priority="high",
    state="unacknowledged",
    numbers={"end_probability": 0.93},
)
SEEN = msgspec.structs.replace(
    RAISED, alarm="data-gap", change="acknowledged", priority="low", state="acknowledged"
)
FACTS = site(msgspec.structs.replace(line(), alarms=(RAISED, SEEN)))
