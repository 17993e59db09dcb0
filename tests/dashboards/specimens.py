"""Invented sites, one for each state a line can be in, with particles of a made-up estimate."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from analytics.samples import (
    DAY_MS,
    AlarmChange,
    DropTest,
    Estimate,
    Point,
    Share,
    Spread,
)
from analytics.setup import Limits, LineSetup, LocalTime, SiteSetup
from dashboards.history.record import Record, no_record
from dashboards.history.span import Span
from dashboards.paper.facts import Cartridge
from dashboards.paper.make import Made, PaperAskedError, Wanted
from dashboards.phrases.language import languages
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.sources import DayLitres, LineFacts, Measured, SiteFacts

DH = 0.178326
NOW_MS = 1_777_386_720_000  # Tuesday 28 April 2026, 14:32 UTC
WHOLE_L = 3100.0
A_DAY_L = 77.0
OPENING = ((420, 1080),) * 6 + ((0, 0),)


def spread_of(values: np.ndarray) -> Spread:
    """Median, 5 % and 95 % points of particles."""
    p05, p50, p95 = np.percentile(values, (5, 50, 95))
    return Spread(p50=float(p50), p05=float(p05), p95=float(p95))


def estimate(
    used: float = 0.6,
    sd: float = 0.06,
    *,
    outlet_dh: float = 7.0,
    raw_dh: float = 15.5,
    bypass: float | None = 0.32,
    **changes: object,
) -> Estimate:
    """An estimate whose used share is normal with this middle and standard deviation."""
    shares = np.random.default_rng(7).normal(used, sd, 4000)
    rows = tuple(float(np.mean(shares > (k + 0.5) / 30)) for k in range(33))
    left = np.maximum((1 - shares) * WHOLE_L, 0.0)
    days = (1 - shares) * WHOLE_L / A_DAY_L
    found = Estimate(
        at_ms=NOW_MS - 12_000,
        known_at_ms=NOW_MS - 12_000,
        cartridge_id="c1",
        remaining_l=spread_of(left),
        used_share=spread_of(shares),
        used_rows=rows,
        days_left=spread_of(np.maximum(days, 0.0)),
        end_ms=spread_of(NOW_MS + days * DAY_MS),
        ends_by="capacity",
        time_limit_ms=None,
        carbon_left_l=None,
        outlet_mmol_l=Spread(
            p50=outlet_dh * DH, p05=(outlet_dh - 0.4) * DH, p95=(outlet_dh + 0.5) * DH
        ),
        treated_mmol_l=None,
        raw_mmol_l=Spread(p50=raw_dh * DH, p05=(raw_dh - 0.5) * DH, p95=(raw_dh + 0.6) * DH),
        target="carbonate",
        bypass=None
        if bypass is None
        else Spread(p50=bypass, p05=max(bypass - 0.04, 0), p95=bypass + 0.05),
        litres_passed=used * WHOLE_L,
        rests_on=Share(litres=0.24, conductivity=0.58, drop_tests=0.18),
        trusted=True,
        reason="A drop test of the machine's water now would sharpen it most.",
        end_probability=float(np.mean(shares > 1)),
    )
    return msgspec.structs.replace(found, **changes)


def days(today_l: float = 62.0) -> tuple[DayLitres, ...]:
    """A week of litres that ends today, Sunday shut."""
    litres = (88.0, 91.0, 104.0, 97.0, 0.0, 79.0, today_l)
    midnight = NOW_MS // DAY_MS * DAY_MS
    return tuple(
        DayLitres(from_ms=midnight - (6 - n) * DAY_MS, litres=value, sd_l=0.03 * value, shut=n == 4)
        for n, value in enumerate(litres)
    )


def live_values(now_ms: int = NOW_MS, ec: float = 412.0) -> dict[str, Measured]:
    """Values read two seconds ago."""
    at = now_ms - 2000
    return {
        "outlet_ec25_us_cm": Measured(value=ec, sd=6.0, at_ms=at),
        "inlet_ec25_us_cm": Measured(value=655.0, sd=9.0, at_ms=at),
        "outlet_temp_c": Measured(value=17.4, sd=0.3, at_ms=at),
        "flow_l_min": Measured(value=1.42, sd=0.04, at_ms=at),
    }


def line_setup(**changes: object) -> LineSetup:
    """A hydrogen cartridge with both probes, to give at most 9 dH."""
    setup = LineSetup(
        line_id="bar",
        medium="hydrogen",
        capacity_mmol=640.0,
        bypass=0.30,
        inlet_probe=True,
        time_limit_days=365.0,
        limits=Limits(outlet_high_mmol_l=9 * DH),
    )
    return msgspec.structs.replace(setup, **changes)


def line(found: Estimate | None = None, **changes: object) -> LineFacts:
    """A line that is right, with changes."""
    facts = LineFacts(
        setup=line_setup(),
        estimate=found or estimate(),
        live=live_values(),
        every_ms=1000,
        days=days(),
        first_row_ms=NOW_MS - 25 * DAY_MS,
        last_row_ms=NOW_MS - 1000,
        fitted_ms=NOW_MS - 25 * DAY_MS,
        bypass_set=0.30,
        last_test=DropTest(
            at_ms=NOW_MS - DAY_MS, who="Mara", point=Point.BLENDED, hardness_mmol_l=7 * DH
        ),
    )
    return msgspec.structs.replace(facts, **changes)


def site(*lines: LineFacts, **changes: object) -> SiteFacts:
    """The invented cafe with these lines."""
    facts = SiteFacts(
        setup=SiteSetup(
            site_id="harbour-steps",
            name="Harbour Steps",
            what="café, two-group machine",
            service="Northgate Water Care",
            local_time=LocalTime(),
            opening=OPENING,
            lines=tuple(each.setup for each in lines),
        ),
        now_ms=NOW_MS,
        lines=lines,
    )
    return msgspec.structs.replace(facts, **changes)


def alarm(name: str, text: str, *, change: str = "raised", priority: str = "high") -> AlarmChange:
    """An alarm that changed two hours ago."""
    return AlarmChange(
        at_ms=NOW_MS - 7_200_000, alarm=name, change=change, priority=priority, text=text
    )


def _unknown() -> LineFacts:
    nothing = msgspec.structs.replace(
        estimate(),
        remaining_l=None,
        used_share=None,
        used_rows=(),
        days_left=None,
        end_ms=None,
        outlet_mmol_l=None,
        raw_mmol_l=None,
        bypass=None,
        litres_passed=0.0,
        reason="How much had passed before the logger came is not known.",
    )
    return line(nothing, fitted_ms=None, last_test=None)


def _past() -> LineFacts:
    found = estimate(1.03, 0.02, outlet_dh=11.0)
    end = Spread(p50=NOW_MS - DAY_MS, p05=NOW_MS - 3 * DAY_MS, p95=NOW_MS + DAY_MS)
    return line(
        msgspec.structs.replace(found, end_ms=end),
        alarms=(alarm("breakthrough", "Hardness comes through the filter."),),
    )


def _by_age() -> LineFacts:
    end = NOW_MS + 17 * DAY_MS
    return line(estimate(0.4, end_ms=Spread(p50=end, p05=end, p95=end), ends_by="time"))


def _without_bed(medium: str) -> LineFacts:
    """A medium of which only age and litres tell the end, twelve months old in June."""
    end = NOW_MS + 40 * DAY_MS
    found = estimate(
        remaining_l=None,
        used_share=None,
        used_rows=(),
        days_left=None,
        end_ms=Spread(p50=end, p05=end, p95=end),
        ends_by="time",
        outlet_mmol_l=None,
        bypass=None,
        reason="Only age and litres tell the end of this medium.",
    )
    setup = line_setup(medium=medium, bypass=0.0, inlet_probe=False)
    return line(found, setup=setup, bypass_set=0.0, last_test=None)


def states() -> dict[str, LineFacts]:
    """A line for each state and each form of the bed, by name."""
    return {
        "right": line(),
        "new": line(estimate(0.01, 0.012, reason="New cartridge.")),
        "half": line(estimate(0.5, 0.07)),
        "due": line(
            estimate(0.92, 0.03),
            alarms=(alarm("capacity-low", "Few litres are left.", priority="medium"),),
        ),
        "past": _past(),
        "time": _by_age(),
        "hard": line(estimate(outlet_dh=10.5)),
        "source": line(
            alarms=(alarm("raw-water-changed", "Raw water changed.", priority="low"),),
            raw_before_mmol_l=14 * DH,
        ),
        "doubt": line(
            estimate(outlet_dh=5.0, trusted=False),
            last_test=DropTest(
                at_ms=NOW_MS - 3_600_000, point=Point.BLENDED, hardness_mmol_l=9 * DH
            ),
        ),
        "unknown": _unknown(),
        "silent": line(
            last_row_ms=NOW_MS - 45 * 3_600_000, live=live_values(NOW_MS - 45 * 3_600_000)
        ),
        "blind": line(
            estimate(
                0.5, 0.14, bypass=None, rests_on=Share(litres=0.7, conductivity=0.0, drop_tests=0.3)
            ),
            setup=line_setup(medium="sodium", bypass=0.0),
            sees_medium=False,
            bypass_set=0.0,
        ),
        "carbon": _without_bed("carbon"),
        "membrane": _without_bed("membrane"),
        "dosing": _without_bed("polyphosphate"),
    }


class FixedSource:
    """A source that gives what it holds; `held` may be exchanged while pages are open."""

    def __init__(self, held: SiteFacts) -> None:
        self.held = held
        self.asked = 0

    def facts(self) -> SiteFacts:
        """What is held now."""
        self.asked += 1
        return self.held

    def journal(self, from_ms: int, to_ms: int) -> list[tuple[str, AlarmChange]]:
        """What stands was raised; nothing else happened."""
        return [(f.setup.line_id, a) for f in self.held.lines for a in f.alarms]

    def was_fitted(self, line_id: str) -> bool:
        """Nobody did."""
        return False

    def cartridges(self, line_id: str, now_ms: int) -> tuple[Cartridge, ...]:
        """None was entered."""
        return ()

    def paper(self, wanted: Wanted, person: Reader, now_ms: int) -> Made:
        """There is none."""
        raise PaperAskedError(f"no paper {wanted.kind}", "Keep a store.")

    def record(self, line_id: str, span: Span, now_ms: int) -> Record:
        """A record of which nothing is known."""
        line = next(one.setup for one in self.held.lines if one.setup.line_id == line_id)
        return no_record(line, span, self.held.setup.local_time, now_ms)


def english(**changes: Any) -> Reader:
    """A reader of English who reads dH."""
    return msgspec.structs.replace(Reader(language=languages()["en"]), **changes)


def now(now_ms: int = NOW_MS) -> When:
    """Instants as read at this moment, in English, by UTC."""
    return When(languages()["en"].calendar, LocalTime(), now_ms)
