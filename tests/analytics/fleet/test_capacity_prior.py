"""What a fleet's cartridges teach of the next one, on fleets whose truth is known."""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.belief import FIELD_LN, YIELD_SD, capacity_guesses
from analytics.fleet.capacity_prior import (
    NARROWEST,
    RATED_SD,
    Learnt,
    Served,
    as_stated,
    evidence_of,
    learn,
    rated_prior,
)
from analytics.samples import Spread
from tests.fleets import OWN_SD, Z95, Fleet, fleet
from tests.makers import hydrogen_line

SEEDS = (0, 1, 2)
SIZES = (20, 60, 150, 400)

pytestmark = pytest.mark.xdist_group("capacity-prior")
"""Fleets that several tests share: in one process."""


class Measured(NamedTuple):
    """Error of ln(share) and how often the 5-95 % range held the truth, learnt and rated."""

    error: float
    rated_error: float
    inside: float
    rated_inside: float


@cache
def learnt(cartridges: int, seed: int) -> tuple[Fleet, Learnt]:
    """A fleet and what it taught."""
    simulated = fleet(cartridges, seed)
    return simulated, learn(simulated.served, np.random.default_rng(1))


def held_against(simulated: Fleet, found: Learnt) -> Measured:
    """The priors held against what the next cartridges deliver."""
    priors = [
        found.of(kind, region) or rated_prior(kind, region)
        for kind, region in zip(simulated.next_kind, simulated.next_region, strict=True)
    ]
    truth = np.log(simulated.next_share)
    off = truth - np.log([prior.share.p50 for prior in priors])
    sd = np.array([prior.relative_sd for prior in priors])
    return Measured(
        error=float(np.sqrt(np.mean(off**2))),
        rated_error=float(np.sqrt(np.mean(truth**2))),
        inside=float(np.mean(np.abs(off) < Z95 * sd)),
        rated_inside=float(np.mean(np.abs(truth) < Z95 * RATED_SD)),
    )


@pytest.mark.parametrize("cartridges", SIZES)
def test_the_error_falls_below_that_of_the_rating(cartridges: int) -> None:
    """Twenty cartridges take a third off, sixty half, and in the end only what cartridges of one
    kind differ among themselves is left."""
    found = [held_against(*learnt(cartridges, seed)) for seed in SEEDS]

    share = np.mean([each.error for each in found]) / np.mean([each.rated_error for each in found])
    assert share < {20: 0.67, 60: 0.52, 150: 0.47, 400: 0.45}[cartridges]


def test_many_cartridges_leave_only_their_own_scatter() -> None:
    """No prior can be better than what differs from one cartridge to the next."""
    simulated, found = learnt(400, 0)

    assert held_against(simulated, found).error < 1.12 * OWN_SD


@pytest.mark.parametrize("cartridges", SIZES)
def test_the_range_holds_the_truth_as_often_as_it_says(cartridges: int) -> None:
    """Nine times in ten, where the rating's own range holds it hardly more than every second
    time."""
    found = [held_against(*learnt(cartridges, seed)) for seed in SEEDS]

    assert np.mean([each.inside for each in found]) > 0.85
    assert np.mean([each.rated_inside for each in found]) < 0.65


def test_few_cartridges_leave_a_wider_range_than_many() -> None:
    """What is not known shows in the width."""
    few, many = learnt(20, 0)[1], learnt(400, 0)[1]

    def width(found: Learnt) -> float:
        return float(np.mean([prior.relative_sd for prior in found.priors]))

    assert width(few) > 1.25 * width(many)
    assert all(prior.relative_sd >= prior.mean_sd for prior in (*few.priors, *many.priors))


def test_a_kind_with_few_cartridges_is_drawn_to_the_others() -> None:
    """Two that delivered 60 % among many that deliver all do not make 60 % the expectation."""
    many = [served("common", "here", share) for share in np.linspace(0.92, 1.08, 40).tolist()]
    pair = [served("rare", "here", 0.6), served("rare", "here", 0.6)]

    found = learn([*many, *pair], np.random.default_rng(2))

    rare = found.of("rare", "here")
    common = found.of("common", "here")
    assert rare is not None
    assert common is not None
    assert 0.6 < rare.share.p50 < common.share.p50
    assert rare.relative_sd > common.relative_sd


def test_cartridges_taken_out_early_do_not_pull_the_figure_down() -> None:
    """Thirty that were taken out half used: as if they had ended there, or as they are."""
    whole = [served("a", "here", share) for share in np.linspace(0.9, 1.1, 20).tolist()]
    early = [served("a", "here", 0.5, ended=False) for _ in range(30)]

    right = learn([*whole, *early], np.random.default_rng(3)).of("a", "here")
    wrong = learn(
        [*whole, *(msgspec.structs.replace(each, reached_end=True) for each in early)],
        np.random.default_rng(3),
    ).of("a", "here")

    assert right is not None
    assert wrong is not None
    assert right.share.p50 == pytest.approx(1.0, abs=0.06)
    assert wrong.share.p50 < 0.8
    assert (right.ended, right.taken_early) == (20, 30)


def test_a_belief_counts_as_measured_though_the_end_was_not_reached() -> None:
    """Changed in good time, the front in sight: 80 %, not "more than 80 %"; 50 times the rating
    said again says nothing."""
    seen = [
        msgspec.structs.replace(each, believed=True, stated_sd=0.10)
        for share in np.linspace(0.76, 0.84, 30).tolist()
        for each in (served("a", "here", share, sd=0.02, ended=False),)
    ]
    unseen = msgspec.structs.replace(
        served("a", "here", 0.98, sd=math.hypot(0.10, YIELD_SD), ended=False),
        believed=True,
        stated_sd=0.10,
    )

    found = learn([*seen, *[unseen] * 50], np.random.default_rng(5))

    prior = found.of("a", "here")
    assert prior is not None
    assert prior.share.p50 == pytest.approx(0.8, abs=0.03)
    assert (prior.ended, prior.taken_early, found.left_out) == (0, 30, 50)


def test_cartridges_that_outlast_their_rating_raise_it_though_none_ended() -> None:
    """All were taken out, all had delivered more than their rating by then."""
    out = [served("a", "here", 1.2, ended=False) for _ in range(12)]

    prior = learn(out, np.random.default_rng(4)).of("a", "here")

    assert prior is not None
    assert prior.share.p50 > 1.2


def test_a_region_nobody_has_served_in_gets_a_wider_range() -> None:
    """How regions differ is known, which way this one does is not."""
    _, found = learnt(400, 0)

    new, known = found.of("hydrogen 3", "moor"), found.of("hydrogen 3", "chalk")

    assert new is not None
    assert known is not None
    assert new.region == ""
    assert new.relative_sd > known.relative_sd
    assert found.of("never seen", "chalk") is None


def test_the_rating_is_taken_out_of_what_a_site_tells() -> None:
    """A measurement of 80 % (+- 4 %) joined with the estimate's own prior is undone."""
    prior_sd = math.hypot(0.10, YIELD_SD)
    weight = prior_sd**2 / (prior_sd**2 + 0.04**2)
    middle = weight * math.log(0.8) + (1.0 - weight) * FIELD_LN
    told = served("a", "here", math.exp(middle), sd=0.04 * math.sqrt(weight), stated_sd=0.10)

    evidence = evidence_of(told)

    assert evidence == (pytest.approx(math.log(0.8)), pytest.approx(0.04))


def test_a_prior_learnt_earlier_is_not_learnt_again() -> None:
    """Sites that were told 80 % and measured nothing say nothing; as ratings they would say 80."""
    told = served("a", "here", 0.8 * math.exp(FIELD_LN), sd=math.hypot(0.08, YIELD_SD))
    told = msgspec.structs.replace(told, stated_mmol=0.8 * 640.0, stated_sd=0.08)
    measured = msgspec.structs.replace(told, delivered=served("a", "here", 0.8, sd=0.02).delivered)

    assert evidence_of(told) is None
    evidence = evidence_of(measured)
    assert evidence is not None
    assert evidence[0] == pytest.approx(math.log(0.8), abs=0.003)


def test_a_range_as_wide_as_its_prior_teaches_nothing() -> None:
    """A medium that the probes cannot see, and no drop test: the site only repeats the rating."""
    repeated = [served("a", "here", 1.0, sd=0.118, stated_sd=0.10) for _ in range(50)]

    found = learn(repeated, np.random.default_rng(1))

    assert (found.priors, found.cartridges, found.left_out) == ((), 0, 50)


def test_the_estimate_begins_with_the_prior_that_is_stated() -> None:
    """What a site file is told, run through the estimate's own guesses, is the prior again."""
    prior = learnt(150, 0)[1].of("hydrogen 3", "chalk")
    assert prior is not None

    capacity, spread = as_stated(prior, 640.0)

    line = hydrogen_line(capacity_mmol=capacity, capacity_relative_sd=spread)
    guesses = np.log(capacity / 640.0) + capacity_guesses(line, np.random.default_rng(1))
    assert float(np.median(guesses)) == pytest.approx(math.log(prior.share.p50), abs=1e-3)
    assert float(guesses.std()) == pytest.approx(prior.relative_sd, rel=0.02)


def test_figures_that_cannot_be_are_left_out_and_counted() -> None:
    """A rating of nothing, a delivery of nothing, a figure that is no number."""
    good = served("a", "here", 1.0)
    nothing = msgspec.structs.replace(good, rated_mmol=0.0)
    dry = msgspec.structs.replace(good, delivered=Spread(p05=0.0, p50=0.0, p95=0.0))
    broken = msgspec.structs.replace(good, delivered=Spread(p05=1.0, p50=math.nan, p95=2.0))

    found = learn([good, nothing, dry, broken], np.random.default_rng(1), sweeps=40)

    assert (found.cartridges, found.left_out) == (1, 3)


def test_the_same_cartridges_and_chance_give_the_same_priors() -> None:
    """What a person was shown can be made again."""
    simulated = fleet(30, 4)

    first, second = (learn(simulated.served, np.random.default_rng(9), sweeps=40) for _ in "ab")

    assert first == second


@settings(max_examples=15)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["a", "b"]),
            st.sampled_from(["", "x", "y"]),
            st.floats(0.05, 4.0),
            st.floats(0.001, 0.4),
            st.booleans(),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_whatever_was_served_the_priors_are_ranges(
    made: list[tuple[str, str, float, float, bool]],
) -> None:
    """Ordered, finite, positive, never narrower than cartridges can be."""
    told = [served(k, r, share, sd=sd, ended=ended) for k, r, share, sd, ended in made]

    found = learn(told, np.random.default_rng(1), sweeps=30)

    assert found.cartridges == len(made)
    for prior in found.priors:
        assert 0.0 < prior.share.p05 < prior.share.p50 < prior.share.p95 < math.inf
        assert prior.relative_sd >= NARROWEST


def served(
    kind: str,
    region: str,
    share: float,
    sd: float = 0.03,
    *,
    ended: bool = True,
    stated_sd: float | None = None,
) -> Served:
    """A cartridge rated 640 mmol that delivered this share of it."""
    low, middle, high = (640.0 * share * math.exp(z * sd) for z in (-Z95, 0.0, Z95))
    return Served(
        kind=kind,
        region=region,
        rated_mmol=640.0,
        delivered=Spread(p05=low, p50=middle, p95=high),
        reached_end=ended,
        stated_sd=stated_sd,
    )
