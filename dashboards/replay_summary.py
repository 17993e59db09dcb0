"""What a replay found, in sentences."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from analytics.quantities import DH_MMOL_L
from analytics.samples import Estimate, Spread
from analytics.setup import LineSetup, SiteSetup
from dashboards.phrases.language import languages
from dashboards.phrases.reader import Reader
from dashboards.phrases.remarks import remark_words, told
from dashboards.phrases.times import When
from firmware_bridge.recording import Aside
from firmware_bridge.replay import Found


def say(setup: SiteSetup, line: LineSetup, found: Found, out: Path) -> str:
    """The summary a person reads after a replay."""
    parts = [f"{setup.name}, line {line.line_id}: {line.medium} cartridge"]
    if not found.rows:
        parts.append("The recording has no usable rows.")
    else:
        days = (found.last_ms - found.first_ms) / 86_400_000
        rate = found.rows / max(found.seconds, 1e-9)
        parts.append(
            f"{found.rows} rows over {days:.0f} days ({_day(found.first_ms)} to "
            f"{_day(found.last_ms)}), {found.draws} draws, {found.litres:.0f} L through the head; "
            f"read in {found.seconds:.1f} s ({rate:,.0f} rows/s)."
        )
    parts += _aside(found.aside)
    parts += (
        _standing(setup, found.last) if found.last else ["No estimate: nothing was known to weigh."]
    )
    parts += _alarms(found)
    parts.append(f"Written: {out / 'estimates.csv'}, {out / 'alarms.csv'}")
    return "\n".join(parts)


def _day(at_ms: float) -> str:
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).strftime("%-d %B %Y")


def _aside(aside: Aside) -> list[str]:
    parts = []
    if aside.bad_lines:
        parts.append(f"{aside.bad_lines} lines could not be read and were left out.")
    if aside.backwards:
        parts.append(f"{aside.backwards} rows ran backwards in time and were left out.")
    if aside.leaps:
        parts.append(f"{aside.leaps} rows leapt far ahead in time and were left out.")
    if aside.cut_short:
        parts.append("The file is cut short; what was there was used.")
    return parts + [f"  {sentence}" for sentence in aside.said]


def _range(spread: Spread, factor: float = 1.0, digits: int = 0) -> str:
    low, high = spread.p05 * factor, spread.p95 * factor
    return f"{spread.p50 * factor:.{digits}f} ({low:.{digits}f}–{high:.{digits}f})"


def _standing(setup: SiteSetup, last: Estimate) -> list[str]:
    parts = [f"At the end, {_day(last.at_ms)}:"]
    if last.remaining_l is not None:
        parts.append(f"  litres left to the end of capacity: {_range(last.remaining_l)}")
    if last.days_left is not None and last.end_ms is not None:
        parts.append(f"  days left: {_range(last.days_left)}, likely until {_day(last.end_ms.p50)}")
    if last.outlet_mmol_l is not None:
        figure = _range(last.outlet_mmol_l, 1.0 / DH_MMOL_L, 1)
        parts.append(f"  {last.target} hardness to the machine: {figure} °dH")
    rests = last.rests_on
    parts.append(
        f"  the figure rests on litres {100 * rests.litres:.0f} %, conductivity "
        f"{100 * rests.conductivity:.0f} %, drop tests {100 * rests.drop_tests:.0f} %"
    )
    english = languages()["en"]
    when = When(english.calendar, setup.local_time, last.at_ms)
    return parts + [f"  {remark_words(n, Reader(language=english), when)}" for n in told(last)]


def _alarms(found: Found) -> list[str]:
    if not found.alarms:
        return ["No alarm was raised."]
    raised = Counter(a.alarm for a in found.alarms if a.change == "raised")
    counted = ", ".join(f"{name} ({count})" for name, count in sorted(raised.items()))
    return [f"Alarms raised: {counted or 'none'}."]
