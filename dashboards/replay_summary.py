"""What a replay found, in sentences."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from analytics.samples import DAY_MS, Estimate
from analytics.setup import LineSetup, SiteSetup
from dashboards.phrases.numbers import decimal_text
from dashboards.phrases.reader import Reader
from dashboards.phrases.remarks import remark_words, told
from dashboards.phrases.times import When
from firmware_bridge.recording import Aside
from firmware_bridge.replay import Found


class Summary:
    """Writes what was found for one reader."""

    def __init__(self, setup: SiteSetup, reader: Reader, found: Found) -> None:
        self._setup, self._reader, self._found = setup, reader, found
        self._say = reader.say
        self._when = When(reader.language.calendar, setup.local_time, round(found.last_ms))

    def text(self, line: LineSetup, out: Path) -> str:
        """The summary a person reads after a replay."""
        found, say = self._found, self._say
        medium = say(f"medium.{line.medium}")
        name = {"site": self._setup.name, "line": line.line_id}
        parts = [say("replay.line", medium=medium, **name)]
        parts.append(self._rows() if found.rows else say("replay.no-rows"))
        parts += self._aside(found.aside)
        parts += self._standing(found.last) if found.last else [say("replay.nothing-known")]
        parts.append(self._alarms())
        files = {n: str(out / f"{n}.csv") for n in ("estimates", "alarms")}
        return "\n".join([*parts, say("replay.written", **files)])

    def _day(self, at_ms: float) -> str:
        return self._when.short(self._when.day(at_ms), year=True)

    def _number(self, value: float, step: float = 1.0) -> str:
        return decimal_text(value, step, self._reader.language.numbers)

    def _rows(self) -> str:
        found = self._found
        return self._say(
            "replay.rows",
            rows=self._number(found.rows),
            days=self._number((found.last_ms - found.first_ms) / DAY_MS),
            first=self._day(found.first_ms),
            last=self._day(found.last_ms),
            draws=self._number(found.draws),
            litres=self._number(found.litres),
            seconds=self._number(found.seconds, 0.1),
            rate=self._number(found.rows / max(found.seconds, 1e-9)),
        )

    def _aside(self, aside: Aside) -> list[str]:
        counts = {
            "replay.bad-lines": aside.bad_lines,
            "replay.backwards": aside.backwards,
            "replay.leaps": aside.leaps,
        }
        parts = [self._reader.counted(key, count) for key, count in counts.items() if count]
        if aside.cut_short:
            parts.append(self._say("replay.cut-short"))
        return parts + [f"  {sentence}" for sentence in aside.said]

    def _standing(self, last: Estimate) -> list[str]:
        reader, say = self._reader, self._say
        parts = []
        if last.remaining_l is not None:
            parts.append(say("replay.left", litres=reader.volume(last.remaining_l).full))
        if last.days_left is not None and last.end_ms is not None:
            days = reader.days(last.days_left)
            words = f"{days.value} ({days.joined})"
            parts.append(say("replay.days", days=words, day=self._day(last.end_ms.p50)))
        if last.outlet_mmol_l is not None:
            hardness = reader.hardness(last.outlet_mmol_l).full
            parts.append(say(f"replay.hardness.{last.target}", hardness=hardness))
        rests = last.rests_on
        shares = {
            "litres": reader.share(rests.litres),
            "conductivity": reader.share(rests.conductivity),
            "tests": reader.share(rests.drop_tests),
        }
        parts.append(say("replay.rests", **shares))
        when = When(reader.language.calendar, self._setup.local_time, last.at_ms)
        parts += [remark_words(remark, reader, when) for remark in told(last)]
        return [say("replay.end", day=self._day(last.at_ms)), *(f"  {part}" for part in parts)]

    def _alarms(self) -> str:
        if not self._found.alarms:
            return self._say("replay.no-alarm")
        raised = Counter(a.alarm for a in self._found.alarms if a.change == "raised")
        names = ", ".join(f"{name} ({count})" for name, count in sorted(raised.items()))
        return self._say("replay.alarms", names=names or self._say("replay.none"))
