"""What a person should know of a figure: codes and numbers, the gravest first.

The words are the catalogue's (`remark.CODE` of every language), so that a stored estimate can be
told in any language.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import msgspec

from analytics.bed import exchanges, sees_little
from analytics.belief import Belief, shares
from analytics.hearing import Hearing
from analytics.samples import DAY_MS, HOUR_MS, Point, Remark
from analytics.setup import LineSetup
from analytics.tested import Tested
from analytics.unannounced import Suspicion
from analytics.unseen import Missed

LIKELY: Final = 0.5
FILM: Final = 0.03
"""A film that makes a probe read low by less than this (ln) is not told."""
K_OFF: Final = 0.12
"""A flow meter whose factor is off by more than this (ln) is worth telling."""
UNSEEN_SHARE: Final = 0.005
"""Unseen litres of less than this share of a life are not worth telling."""
TOLD_FOR_MS: Final = 30 * DAY_MS
"""A drop test that contradicted and a found change are told for so long."""

CODES: Final = (
    "raw-water-unknown",
    "start-unknown",
    "no-capacity",
    "cartridge-unannounced",
    "probes-exchanged",
    "drop-test-doubted",
    "k-factor-off",
    "outlet-film",
    "inlet-film",
    "gap-running",
    "gap-unseen",
    "not-flushed",
    "stated-use",
    "use-unknown",
    "no-probes",
    "no-inlet-probe",
    "medium-unseen",
)
"""Every code there is, the gravest first."""


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What remarks are made of."""

    belief: Belief
    hearing: Hearing
    missed: Missed
    suspicion: Suspicion
    hand_read: bool
    at_ms: int


def remarks_of(line: LineSetup, known: Known) -> tuple[Remark, ...]:
    """Everything worth knowing of this figure, the gravest first."""
    found = [*_of_start(line, known), *_of_facts(known), *_of_meters(line, known)]
    found += [*_of_gaps(known), *_of_layout(line, known)]
    return tuple(sorted(found, key=lambda remark: CODES.index(remark.code)))


def _of_start(line: LineSetup, known: Known) -> Iterator[Remark]:
    belief, bed = known.belief, exchanges(line.medium)
    if bed and not belief.raw_known:
        yield Remark(code="raw-water-unknown")
    if bed and line.capacity_mmol is None and line.rated_l is None:
        yield Remark(code="no-capacity")
    elif belief.started_unknown:
        yield Remark(code="start-unknown")


def _of_facts(known: Known) -> Iterator[Remark]:
    found_ms, at_ms = known.suspicion.found_ms, known.at_ms
    if found_ms and at_ms - found_ms < TOLD_FOR_MS:
        yield Remark(code="cartridge-unannounced", at_ms=found_ms)
    for test in known.belief.tested:
        if test.doubted and at_ms - test.at_ms < TOLD_FOR_MS:
            yield _doubted(test)


def _doubted(test: Tested) -> Remark:
    unit = "meq_l" if test.kind == "alkalinity" else "mmol_l"
    values = {"told": test.told, "low": test.low, "high": test.high}
    place = "raw" if test.point == Point.RAW.value else "outlet"
    return Remark(
        code="drop-test-doubted",
        which=f"{place}-{test.kind}",
        at_ms=test.at_ms,
        event_id=test.event_id,
        values={f"{name}_{unit}": value for name, value in values.items()},
    )


def _of_meters(line: LineSetup, known: Known) -> Iterator[Remark]:
    cloud, weights = known.belief.cloud, shares(known.belief)
    if known.hearing.turned:
        yield Remark(code="probes-exchanged", at_ms=known.hearing.since_ms)
    off = float(weights @ cloud["k"])
    if line.flow_meter and abs(off) > K_OFF:
        yield Remark(code="k-factor-off", values={"factor": math.exp(off)})
    if line.outlet_probe and float(weights @ (cloud["fouled"] > 0.0)) > LIKELY:
        yield Remark(code="outlet-film", which="outlet")
    if line.inlet_probe and float(weights @ (cloud["film"] > FILM)) > LIKELY:
        yield Remark(code="inlet-film", which="inlet")
    if known.hearing.unflushed:
        yield Remark(code="not-flushed")


def _of_gaps(known: Known) -> Iterator[Remark]:
    missed = known.missed
    if missed.running_ms:
        yield Remark(code="gap-running", at_ms=missed.running_ms)
    a_life = float(known.belief.cloud["a_life"][0])
    if missed.total_ms and not missed.litres < UNSEEN_SHARE * a_life:
        hours = missed.total_ms / HOUR_MS
        yield Remark(
            code="gap-unseen",
            at_ms=missed.until_ms,
            values={"hours": hours, "litres": missed.litres},
        )


def _of_layout(line: LineSetup, known: Known) -> Iterator[Remark]:
    if not line.flow_meter:
        stated = line.litres_a_day is not None
        values = {"litres_a_day": line.litres_a_day or 0.0} if stated else {}
        code = "stated-use" if stated or known.hand_read else "use-unknown"
        yield Remark(code=code, values=values)
    if not exchanges(line.medium):
        return
    if not line.outlet_probe:
        yield Remark(code="no-probes")
    elif sees_little(line.medium):
        yield Remark(code="medium-unseen")
    elif not line.inlet_probe:
        yield Remark(code="no-inlet-probe")
