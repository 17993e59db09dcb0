"""The sentences that stand above every number: the state, the fact, what to do next."""

from __future__ import annotations

from datetime import timedelta

import msgspec

from analytics.bed import exchanges
from analytics.samples import DAY_MS, DropTest, Estimate, Point, Spread
from analytics.setup import CapacityKind
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Piece, Reader
from dashboards.phrases.remarks import remark_words, told
from dashboards.phrases.times import When
from dashboards.sources import LineFacts
from dashboards.state import State, is_hard

ORDER_DAYS = 6
"""A cartridge is ordered this long before the earliest likely end; common practice, no source."""
LONG_DAYS = 365
MONTH_DAYS = 30.4375


Sentence = tuple[Piece, ...]


class Headline(msgspec.Struct, frozen=True, kw_only=True):
    """`first` is the state; `then` the fact with its marked parts; `next_do` and `next_more` say
    what to do."""

    first: str
    then: Sentence
    next_do: Sentence = ()
    next_more: Sentence = ()

    @property
    def spoken(self) -> str:
        """The two sentences as one plain text."""
        return f"{self.first} {''.join(p.text for p in self.then)}"


def headline(line: LineFacts, state: State, reader: Reader, when: When) -> Headline:
    """The headline of a line in this state."""
    teller = _Teller(line, reader, when)
    tell = {
        State.PAST: teller.past,
        State.HARD: teller.hard,
        State.DOUBT: teller.doubt,
        State.SILENT: teller.silent,
        State.DUE: teller.due,
        State.UNKNOWN: teller.unknown,
        State.SOURCE: teller.source,
        State.TIME: teller.time,
        State.RIGHT: teller.right,
    }
    return tell[state]()


class _Teller:
    """The words of one line; every method gives the headline of the state it is named for."""

    def __init__(self, line: LineFacts, reader: Reader, when: When) -> None:
        self.line = line
        self.reader = reader
        self.when = when
        self.estimate: Estimate | None = line.estimate

    # --- the states -------------------------------------------------------------------------------

    def right(self) -> Headline:
        return Headline(
            first=self.say("right.first"),
            then=self._left_until(),
            next_do=self.reader.pieces("next.nothing"),
            next_more=self._order(),
        )

    def due(self) -> Headline:
        estimate = self.known
        if estimate.ends_by in ("time", "carbon"):
            return msgspec.structs.replace(self.time(), next_do=self.reader.pieces("next.ready"))
        return Headline(
            first=self.say("right.first"),
            then=self._change_by(estimate),
            next_do=self.reader.pieces("next.ready"),
        )

    def time(self) -> Headline:
        estimate = self.known
        assert estimate.end_ms is not None
        no_bed = not exchanges(self.line.setup.medium)
        first = "time.first-no-bed" if no_bed else "right.first"
        return Headline(
            first=self.say(first),
            then=self._ends_otherwise(estimate.ends_by, estimate.end_ms),
            next_do=self.reader.pieces("next.nothing"),
            next_more=self._litres_in("next.still-left-bare"),
        )

    def past(self) -> Headline:
        key = "next.scale" if is_hard(self.line, self.known) else "next.scale-soon"
        return Headline(
            first=self.say("past.first"), then=self._past_fact(), next_do=self.reader.pieces(key)
        )

    def hard(self) -> Headline:
        return Headline(
            first=self.say("hard.first"),
            then=self._outlet_against_window("hard.then"),
            next_do=self.reader.pieces("next.bypass"),
            next_more=self._still_left(),
        )

    def source(self) -> Headline:
        return Headline(
            first=self.say("source.first"), then=self._source_fact(), next_do=self._still_left()
        )

    def doubt(self) -> Headline:
        return Headline(
            first=self.say("doubt.first"),
            then=self._doubt_fact(),
            next_do=self.reader.pieces("next.test"),
            next_more=self._litres_in("next.figure-was"),
        )

    def unknown(self) -> Headline:
        remarks = told(self.estimate)
        reason = remark_words(remarks[0], self.reader, self.when) if remarks else ""
        key = "unknown.no-bed" if not exchanges(self.line.setup.medium) else "unknown.then"
        return Headline(
            first=self.say("unknown.first"),
            then=self.reader.pieces(key),
            next_do=(Piece(reason),) if reason else (),
        )

    def silent(self) -> Headline:
        last = self.line.last_row_ms
        first = (
            self.say("silent.never")
            if last is None
            else self.say("silent.first", moment=self.when.moment(last))
        )
        left = self.estimate.remaining_l if self.estimate else None
        then = (
            self.reader.pieces("silent.no-figure")
            if left is None
            else self.reader.pieces("silent.then", litres=self._sum(), range=self._range())
        )
        return Headline(first=first, then=then, next_do=self.reader.pieces("next.power"))

    # --- their parts ------------------------------------------------------------------------------

    def say(self, key: str, **values: str) -> str:
        return self.reader.say(key, **values)

    @property
    def known(self) -> Estimate:
        """The estimate, in states that cannot be reached without one."""
        if self.estimate is None:
            raise ValueError("This state needs an estimate.")
        return self.estimate

    @property
    def left(self) -> Spread:
        """Litres left, in states that cannot be reached without them."""
        left = self.known.remaining_l
        if left is None:
            raise ValueError("This state needs a figure of litres left.")
        return left

    def _sum(self) -> Piece:
        return Piece(self.reader.volume_words(self.reader.volume(self.left)), "sum")

    def _range(self) -> Piece:
        return Piece(self.reader.volume(self.left).bracketed, "range")

    def _litres_and_range(self) -> dict[str, Piece]:
        """Litres as they stand in a lesser sentence: not underlined, not broken."""
        return {"litres": Piece(self._sum().text, "hold"), "range": self._range()}

    def _end_days(self, end: Spread) -> tuple[str, str]:
        """The likely day in full, and the range of days."""
        when = self.when
        first, last = when.day(end.p05), when.day(end.p95)
        return when.long(when.day(end.p50)), when.days_range(first, last)

    def _left_until(self) -> Sentence:
        end = self.known.end_ms
        if end is None:
            return self.reader.pieces("right.no-day", litres=self._sum(), range=self._range())
        if end.p50 - self.when.now_ms > LONG_DAYS * DAY_MS:
            return self.reader.pieces("right.long", litres=self._sum())
        day, days = self._end_days(end)
        return self.reader.pieces(
            "right.then",
            litres=self._sum(),
            day=Piece(day, "hold"),
            range=Piece(f"({days})", "range"),
        )

    def _order(self) -> Sentence:
        end = self.known.end_ms
        if end is None or end.p50 - self.when.now_ms > LONG_DAYS * DAY_MS:
            return ()
        by = self.when.day(end.p05) - timedelta(days=ORDER_DAYS)
        if by <= self.when.today:
            return self.reader.pieces("next.order-now")
        return self.reader.pieces("next.order", day=Piece(self.when.long(by), "hold"))

    def _change_by(self, estimate: Estimate) -> Sentence:
        parts = {"litres": self._sum(), "range": self._range()}
        if estimate.end_ms is None:
            return self.reader.pieces("due.no-day", **parts)
        by = self.when.day(estimate.end_ms.p05)
        if by <= self.when.today:
            return self.reader.pieces("due.today", **parts)
        return self.reader.pieces("due.then", day=Piece(self.when.long(by), "hold"), **parts)

    def _ends_otherwise(self, by: str, end: Spread) -> Sentence:
        day, days = self._end_days(end)
        if by == "carbon":
            return self.reader.pieces(
                "carbon.then", day=Piece(day, "sum"), range=Piece(f"({days})", "range")
            )
        key = "time.then-no-bed" if not exchanges(self.line.setup.medium) else "time.then"
        return self.reader.pieces(key, limit=self._limit(), day=Piece(day, "sum"))

    def _limit(self) -> str:
        days = self.line.setup.time_limit_days or 0.0
        months = round(days / MONTH_DAYS)
        if months >= 1 and abs(months * MONTH_DAYS - days) < 4:
            if months == 1:
                return self.say("limit.month")
            return self.say("limit.months", n=self.reader.count_word(months))
        return self.say("limit.days", n=f"{days:.0f}")

    def _past_fact(self) -> Sentence:
        estimate, end = self.known, self.known.end_ms
        if estimate.ends_by in ("time", "carbon") and end is not None:
            day, _ = self._end_days(end)
            key = "past.time" if estimate.ends_by == "time" else "past.carbon"
            if estimate.ends_by == "time":
                return self.reader.pieces(key, limit=self._limit(), day=day)
            return self.reader.pieces(key, day=day)
        if estimate.outlet_mmol_l is None:
            return self.reader.pieces("past.bare")
        if not is_hard(self.line, estimate):
            outlet = self.reader.hardness(estimate.outlet_mmol_l)
            return self.reader.pieces(
                "past.rising",
                outlet=Piece(outlet.text, "sum"),
                range=Piece(outlet.bracketed, "range"),
            )
        return self._outlet_against_window("past.then")

    def _outlet_against_window(self, key: str) -> Sentence:
        outlet, high = self.known.outlet_mmol_l, self.line.setup.limits.outlet_high_mmol_l
        if outlet is None or high is None:
            raise ValueError("This sentence needs the outlet and its limit.")
        window = self.say("window.most", high=self.reader.hardness_set(high))
        figure = self.reader.hardness(outlet)
        return self.reader.pieces(key, outlet=Piece(figure.text, "sum"), window=window)

    def _source_fact(self) -> Sentence:
        raw, before = self.known.raw_mmol_l, self.line.raw_before_mmol_l
        if raw is None:
            return ()
        after = self.reader.hardness(raw)
        if before is None:
            return self.reader.pieces(
                "source.now", after=after.text, range=Piece(after.bracketed, "range")
            )
        key = "source.up" if raw.p50 >= before else "source.down"
        shift = self.reader.hardness(
            Spread(p50=before, p05=before - raw.p50 + raw.p05, p95=before - raw.p50 + raw.p95)
        )
        return self.reader.pieces(key, before=shift.value, after=after.text)

    def _doubt_fact(self) -> Sentence:
        test, outlet = self.line.last_test, self.known.outlet_mmol_l
        told = hardness_of_test(test, self.line.setup.capacity_kind)
        if told is None or outlet is None:
            return self.reader.pieces("doubt.bare")
        return self.reader.pieces(
            "doubt.test",
            test=Piece(f"{self.reader.hardness_set(told)}{THIN}{self.reader.hardness_sign}", "sum"),
            figure=self.reader.hardness(outlet).value,
        )

    def _still_left(self) -> Sentence:
        end = self.known.end_ms
        if end is None:
            return self._litres_in("next.still-left-bare")
        day, days = self._end_days(end)
        return self._litres_in(
            "next.still-left", day=Piece(day, "hold"), days=Piece(f"({days})", "range")
        )

    def _litres_in(self, key: str, **more: Piece) -> Sentence:
        """A lesser sentence about litres left; none where they are not known."""
        if self.known.remaining_l is None:
            return ()
        return self.reader.pieces(key, **self._litres_and_range(), **more)


def hardness_of_test(test: DropTest | None, kind: CapacityKind) -> float | None:
    """Hardness of this kind in the machine's water as a drop test had it, mmol/L; None if it
    tested something else. Carbonate hardness is the lesser of hardness and alkalinity."""
    if test is None or test.point != Point.BLENDED:
        return None
    if kind is CapacityKind.CALCIUM:
        return test.calcium_mmol_l
    if kind is CapacityKind.TOTAL:
        return test.hardness_mmol_l
    if test.alkalinity_meq_l is None:
        return None
    carbonate = test.alkalinity_meq_l / 2
    return carbonate if test.hardness_mmol_l is None else min(carbonate, test.hardness_mmol_l)
