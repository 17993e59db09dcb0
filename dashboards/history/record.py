"""What the store holds of one line over one span, brought to the bins of a chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np

from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AlarmChange,
    AnyEvent,
    Closure,
    Draws,
    DropTest,
    Estimate,
    Floats,
    Ints,
    KFactorSet,
    Point,
    Spread,
)
from analytics.setup import CapacityKind, LineSetup, LocalTime, SiteSetup
from dashboards.history.bins import (
    DRAW_BY_DRAW_MS,
    Bins,
    Trace,
    bins_of,
    extreme,
    no_trace,
    total,
    trace_of,
    weighted,
)
from dashboards.history.span import Span
from dashboards.phrases.times import local_day
from dashboards.site_reader import SiteReader
from firmware_bridge.store.series import Series

PULSES_A_SECOND_TO_L_MIN: Final = 60.0
ALARM_BEFORE_MS: Final = 400 * DAY_MS
"""An alarm that stands may have been raised this long before."""
MOST_ESTIMATES: Final = 800


class AlarmSpan(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm from its raising to its return to normal; `until_ms` None: it stands."""

    raised: AlarmChange
    until_ms: int | None

    @property
    def alarm(self) -> str:
        """Its rule's name."""
        return self.raised.alarm

    @property
    def priority(self) -> str:
        """How urgent it is."""
        return self.raised.priority

    @property
    def from_ms(self) -> int:
        """When it was raised."""
        return self.raised.at_ms


class Tested(msgspec.Struct, frozen=True, kw_only=True):
    """A drop test of the machine's water: the truth lies in (low, high], mmol/L."""

    at_ms: int
    low_mmol_l: float
    high_mmol_l: float


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """A time without readings; `what` is "meters" (no word at all) or "outlet-probe"."""

    from_ms: int
    until_ms: int
    what: str


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """One line over one span. Traces and litres go with `bins`; EC25 in uS/cm, temperature in C,
    flow in L/min, hardness in mmol/L of the kind the medium works on."""

    line: LineSetup
    span: Span
    bins: Bins
    now_ms: int
    ec_out: Trace
    ec_in: Trace
    temp: Trace
    flow: Trace
    litres: Floats
    estimates: tuple[Estimate, ...]
    draws: Draws | None
    draw_litres: Floats | None
    alarms: tuple[AlarmSpan, ...]
    events: tuple[AnyEvent, ...]
    tests: tuple[Tested, ...]
    gaps: tuple[Gap, ...]
    shut: tuple[tuple[int, int], ...]
    first_ms: int | None
    last_ms: int | None

    @property
    def last_bin(self) -> int:
        """The last bin of which something is known; the very last where nothing is."""
        known = np.isfinite(self.litres) | np.isfinite(self.ec_out.mean)
        places = np.flatnonzero(known)
        return int(places[-1]) if len(places) else len(self.bins) - 1

    @property
    def hardness(self) -> tuple[tuple[int, Spread], ...]:
        """The outlet's hardness as estimated, where it is known."""
        known = ((e.at_ms, e.outlet_mmol_l) for e in self.estimates)
        return tuple((at, spread) for at, spread in known if spread is not None)


def no_record(line: LineSetup, span: Span, local: LocalTime, now_ms: int) -> Record:
    """A line of which nothing was ever read."""
    bins = bins_of(span, local)
    none = no_trace(len(bins))
    return Record(
        line=line,
        span=span,
        bins=bins,
        now_ms=now_ms,
        ec_out=none,
        ec_in=none,
        temp=none,
        flow=none,
        litres=none.mean,
        estimates=(),
        draws=None,
        draw_litres=None,
        alarms=(),
        events=(),
        tests=(),
        gaps=(),
        shut=(),
        first_ms=None,
        last_ms=None,
    )


def record_of(
    reader: SiteReader, setup: SiteSetup, line: LineSetup, span: Span, now_ms: int, lag_ms: int = 0
) -> Record:
    """The line over the span; raises StoreError where the file cannot be read. A row may be on its
    way here for `lag_ms`."""
    bins = bins_of(span, setup.local_time)
    line_id = line.line_id
    everything = reader.events(line_id)
    rows_of = reader.span(line_id)
    factors = _k_factors(line, everything)
    ec_out, ec_in, temp, flow, litres = _drawn(reader, line, span, bins, factors)
    draws = reader.draws(line_id, span.from_ms, span.to_ms) if _by_draw(span) else None
    return Record(
        line=line,
        span=span,
        bins=bins,
        now_ms=now_ms,
        ec_out=_with_extremes(reader, line_id, "outlet_ec25_us_cm", bins, ec_out),
        ec_in=_with_extremes(reader, line_id, "inlet_ec25_us_cm", bins, ec_in),
        temp=temp,
        flow=flow,
        litres=litres,
        estimates=_estimates(reader, line_id, span),
        draws=draws,
        draw_litres=None if draws is None else draws.pulses / factors(draws.start_ms),
        alarms=alarm_spans(
            [k.change for k in reader.alarm_changes(line_id, span.from_ms - ALARM_BEFORE_MS,
                                                    span.to_ms)],
            span,
        ),
        events=tuple(e for e in everything if span.from_ms <= e.at_ms < span.to_ms),
        tests=_tests(line, everything, span),
        gaps=_gaps(reader, line, span, rows_of, now_ms - lag_ms),
        shut=_shut(setup, everything, span),
        first_ms=rows_of[0] if rows_of else None,
        last_ms=rows_of[1] if rows_of else None,
    )  # fmt: skip


def _by_draw(span: Span) -> bool:
    return span.length_ms <= DRAW_BY_DRAW_MS


class _Factors:
    """Pulses per litre as they were set, by date."""

    def __init__(self, at_ms: Sequence[int], pulses_per_l: Sequence[float]) -> None:
        self._at_ms = np.array(at_ms)
        self._pulses_per_l = np.array(pulses_per_l)

    def __call__(self, at_ms: Ints) -> Floats:
        place = np.searchsorted(self._at_ms, at_ms, side="right") - 1
        found: Floats = self._pulses_per_l[np.maximum(place, 0)]
        return found


def _k_factors(line: LineSetup, events: Sequence[AnyEvent]) -> _Factors:
    told = [e for e in events if isinstance(e, KFactorSet)]
    first = told[0].pulses_per_l if told else line.pulses_per_l
    return _Factors([0, *(e.at_ms for e in told)], [first, *(e.pulses_per_l for e in told)])


def _drawn(
    reader: SiteReader, line: LineSetup, span: Span, bins: Bins, factors: _Factors
) -> tuple[Floats, Floats, Trace, Trace, Floats]:
    """Means of EC25 out and in, temperature, flow, and litres, from sums of draws."""
    width = HOUR_MS if not _by_draw(span) else 10_000
    sums = reader.draw_sums(line.line_id, span.from_ms, span.to_ms, width)
    at_ms = np.maximum(sums.at_ms, span.from_ms)
    pulses = sums.pulses.astype(np.float64)
    per_l = factors(at_ms)
    l_min = PULSES_A_SECOND_TO_L_MIN / per_l
    fastest = extreme(bins, at_ms, sums.fastest_hz * l_min, highest=True)
    return (
        weighted(bins, at_ms, sums.outlet_ec25_us_cm, pulses),
        weighted(bins, at_ms, sums.inlet_ec25_us_cm, pulses),
        Trace(
            mean=weighted(bins, at_ms, sums.outlet_temp_c, pulses),
            low=extreme(bins, at_ms, sums.coldest_c, highest=False),
            high=extreme(bins, at_ms, sums.warmest_c, highest=True),
        ),
        Trace(
            mean=weighted(bins, at_ms, sums.mean_hz * l_min, pulses),
            low=np.where(np.isfinite(fastest), 0.0, np.nan),
            high=fastest,
        ),
        total(bins, at_ms, pulses / per_l),
    )


def _series(reader: SiteReader, line_id: str, channel: str, bins: Bins) -> Series:
    """The channel in steps no wider than the bins and no finer than is of use."""
    step = HOUR_MS if bins.unit in ("day", "week") else int(np.diff(bins.edges).max())
    first, last = int(bins.edges[0]), int(bins.edges[-1])
    first, last = first - first % step, last + -last % step
    return reader.series(line_id, channel, first, last, (last - first) // step)


def _with_extremes(
    reader: SiteReader, line_id: str, channel: str, bins: Bins, drawn: Floats
) -> Trace:
    """The line of the draws between the lowest and highest that was ever read; without a draw
    nothing counted and nothing is drawn."""
    counted = np.isfinite(drawn)
    if not counted.any():
        return no_trace(len(bins))
    read = trace_of(bins, _series(reader, line_id, channel, bins))
    return Trace(
        mean=drawn,
        low=np.where(counted, np.fmin(drawn, read.low), np.nan),
        high=np.where(counted, np.fmax(drawn, read.high), np.nan),
    )


def _estimates(reader: SiteReader, line_id: str, span: Span) -> tuple[Estimate, ...]:
    width = max(HOUR_MS, -(-span.length_ms // MOST_ESTIMATES // HOUR_MS) * HOUR_MS)
    if _by_draw(span):
        return tuple(reader.estimates(line_id, span.from_ms - HOUR_MS, span.to_ms))
    return tuple(reader.estimates_sampled(line_id, span.from_ms, span.to_ms, width))


def alarm_spans(changes: Sequence[AlarmChange], span: Span) -> tuple[AlarmSpan, ...]:
    """Alarms that stood at some time of the span, from their raising to their return."""
    standing: dict[str, AlarmChange] = {}
    found: list[AlarmSpan] = []
    for change in changes:
        if change.change == "raised":
            standing[change.alarm] = change
        elif change.change == "cleared" and change.alarm in standing:
            found.append(AlarmSpan(raised=standing.pop(change.alarm), until_ms=change.at_ms))
    found += [AlarmSpan(raised=change, until_ms=None) for change in standing.values()]
    inside = (a for a in found if a.until_ms is None or a.until_ms > span.from_ms)
    return tuple(sorted(inside, key=lambda a: a.from_ms))


def _tests(line: LineSetup, events: Sequence[AnyEvent], span: Span) -> tuple[Tested, ...]:
    tests = (e for e in events if isinstance(e, DropTest) and e.point is Point.BLENDED)
    inside = ((e, _titrated(line, e)) for e in tests if span.from_ms <= e.at_ms < span.to_ms)
    return tuple(
        Tested(at_ms=e.at_ms, low_mmol_l=ends[0], high_mmol_l=ends[1]) for e, ends in inside if ends
    )


def _titrated(line: LineSetup, test: DropTest) -> tuple[float, float] | None:
    """The interval of a test, mmol/L of the kind the medium works on."""
    kind = line.capacity_kind
    if kind is CapacityKind.CARBONATE and test.alkalinity_meq_l is not None:
        high, step = test.alkalinity_meq_l / 2, test.alkalinity_step_meq_l / 2
    elif kind is CapacityKind.CALCIUM and test.calcium_mmol_l is not None:
        high, step = test.calcium_mmol_l, test.calcium_step_mmol_l
    elif kind is CapacityKind.TOTAL and test.hardness_mmol_l is not None:
        high, step = test.hardness_mmol_l, test.hardness_step_mmol_l
    else:
        return None
    return max(high - step, 0.0), high


def _gaps(
    reader: SiteReader, line: LineSetup, span: Span, rows: tuple[int, int] | None, heard_ms: int
) -> tuple[Gap, ...]:
    """Times longer than the site's limit in which no row came, or none of the outlet probe."""
    if rows is None:
        return ()
    first, last = max(span.from_ms, rows[0]), min(span.to_ms, heard_ms)
    if last <= first:
        return ()
    channels = [c for c, fitted in (("pulses", line.flow_meter),
                                    ("outlet_ec25_us_cm", line.outlet_probe),
                                    ("inlet_ec25_us_cm", line.inlet_probe)) if fitted]  # fmt: skip
    points = min(2000, max(1, (last - first) // max(60_000, round(line.limits.gap_s * 500))))
    heard = {c: reader.series(line.line_id, c, first, last, points) for c in channels}
    if not heard:
        return ()
    limit = round(line.limits.gap_s * 1000)
    anything = np.unique(np.concatenate([s.at_ms for s in heard.values()]))
    width = max(s.width_ms for s in heard.values())
    silent = _holes(anything, width, first, last, limit, "meters")
    if "outlet_ec25_us_cm" not in heard:
        return silent
    probe = _holes(heard["outlet_ec25_us_cm"].at_ms, width, first, last, limit, "outlet-probe")
    alone = (g for g in probe if not any(s.from_ms < g.until_ms and g.from_ms < s.until_ms
                                         for s in silent))  # fmt: skip
    return tuple(sorted((*silent, *alone), key=lambda g: g.from_ms))


def _holes(
    at_ms: Ints, width_ms: int, first_ms: int, last_ms: int, limit_ms: int, what: str
) -> tuple[Gap, ...]:
    ends = [first_ms - width_ms, *at_ms.tolist(), last_ms]
    return tuple(
        Gap(from_ms=max(before + width_ms, first_ms), until_ms=after, what=what)
        for before, after in pairwise(ends)
        if after - before - width_ms > limit_ms
    )


def _shut(setup: SiteSetup, events: Sequence[AnyEvent], span: Span) -> tuple[tuple[int, int], ...]:
    """Announced closures, and the hours the place is shut where single hours can be seen."""
    closed = [(e.at_ms, e.until_ms) for e in events if isinstance(e, Closure)]
    spans = [(max(a, span.from_ms), min(b, span.to_ms)) for a, b in closed]
    if span.length_ms <= 8 * DAY_MS:
        spans += _shut_hours(setup, span)
    return tuple(sorted((a, b) for a, b in spans if b > a))


def _shut_hours(setup: SiteSetup, span: Span) -> list[tuple[int, int]]:
    local = setup.local_time
    minute = span.from_ms - DAY_MS
    opened: list[tuple[int, int]] = []
    while minute < span.to_ms + DAY_MS:
        day = local_day(local, minute)
        start = minute - (minute + local.offset_ms(minute)) % DAY_MS
        opens, closes = setup.opening[day.weekday()]
        if closes > opens:
            opened.append((start + opens * 60_000, start + closes * 60_000))
        minute += DAY_MS
    edges = [span.from_ms - 2 * DAY_MS, *(t for pair in opened for t in pair), span.to_ms]
    return [
        (max(a, span.from_ms), min(b, span.to_ms))
        for a, b in zip(edges[::2], edges[1::2], strict=False)
        if b > span.from_ms and a < span.to_ms
    ]
