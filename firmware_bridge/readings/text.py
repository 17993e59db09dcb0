"""Lines of text by a pattern, one line a row. Pure.

A pattern can be written so that a line of a few dozen letters keeps it busy for years. So lines are
short, each match has a time of its own, and after one that ran out of it lines are passed over,
twice as many each time.
"""

from __future__ import annotations

from collections import Counter
from typing import Final

import regex

from firmware_bridge.readings.numbers import WORDS, Units, heard, number_in
from firmware_bridge.readings.value_driver import Heard

LONGEST_LINE: Final = 512
LONGEST_PATTERN: Final = 400
MATCH_S: Final = 0.05
PASS_OVER_MOST: Final = 1024
SHOWN: Final = 60


class TextDecoder:
    """Lines by a pattern whose named groups are channels."""

    def __init__(self, pattern: str, units: Units | None = None) -> None:
        self._pattern = regex.compile(pattern)
        self._units = units or Units()
        self._counts: Counter[str] = Counter()
        self._rest = b""
        self._too_long = False
        self._pass_over = 0
        self._slow = 0
        self.complaint = ""

    @property
    def counts(self) -> dict[str, int]:
        """What was refused so far."""
        return dict(self._counts)

    def opened(self) -> None:
        """A new line begins; the first one heard may be half a line and matches nothing then."""
        self._rest = b""
        self._too_long = False

    def decode(self, chunk: bytes) -> list[Heard]:
        """Each whole line that matches as one row."""
        found = []
        *lines, rest = (self._rest + chunk).replace(b"\r", b"\n").split(b"\n")
        for line in lines:
            if self._too_long or len(line) > LONGEST_LINE:
                self._too_long = False
                self._counts["lines_too_long"] += 1
            elif line.strip():
                found += self._line(line)
        if len(rest) > LONGEST_LINE:
            self._too_long, rest = True, b""
        self._rest = rest
        return found

    def _line(self, line: bytes) -> list[Heard]:
        if self._pass_over:
            self._pass_over -= 1
            self._counts["lines_passed_over"] += 1
            return []
        text = line.decode("utf-8", errors="replace")
        try:
            match = self._pattern.search(text, timeout=MATCH_S)
        except TimeoutError:
            self._too_slow()
            return []
        self._slow = 0
        if match is None:
            self._counts["lines_strange"] += 1
            self.complaint = (
                f"A line does not match the pattern: {_shown(text)}. "
                "Compare with: lastlitre meters scan"
            )
            return []
        return self._row(match.groupdict(), text)

    def _row(self, groups: dict[str, str | None], text: str) -> list[Heard]:
        numbers = {}
        for word, said in groups.items():
            if said is None or word not in WORDS:
                continue
            try:
                numbers[word] = number_in(said)
            except ValueError:
                self._counts["numbers_strange"] += 1
                self.complaint = f"{word} is {said[:SHOWN]!r}, no number, in: {_shown(text)}"
        return [heard(numbers, self._units)] if numbers else []

    def _too_slow(self) -> None:
        self._counts["lines_too_slow"] += 1
        self._slow += 1
        self._pass_over = min(2**self._slow, PASS_OVER_MOST)
        self.complaint = (
            "The pattern needs too long for some lines: nested repeats such as (a+)+ do that. "
            "Write it tighter."
        )


def pattern_fault(pattern: str) -> str:
    """What is wrong with a pattern, in words; empty where nothing is."""
    if len(pattern) > LONGEST_PATTERN:
        return f"longer than {LONGEST_PATTERN} characters"
    try:
        compiled = regex.compile(pattern)
    except regex.error as fault:
        return f"not a pattern: {fault}"
    strange = [name for name in compiled.groupindex if name not in WORDS]
    if strange:
        return f"group {strange[0]} is no channel"
    if not compiled.groupindex:
        return "no group names a channel"
    return ""


def _shown(text: str) -> str:
    plain = "".join(c if c.isprintable() else "?" for c in text)
    return repr(plain[:SHOWN] + ("..." if len(plain) > SHOWN else ""))
