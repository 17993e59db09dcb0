"""The steps of a fitting: what buttons do to a page, whatever their order."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import ActRefused
from analytics.quantities import DH_MMOL_L
from analytics.samples import BypassSet, CartridgeFitted, DropTest, KFactorSet, Point, Rows
from analytics.setup import LocalTime
from dashboards.acts.said import faults_said
from dashboards.commissioning import moves_meters, moves_water
from dashboards.commissioning.checks import PASS, blend_off, checks_of
from dashboards.commissioning.counting import agreed, reading
from dashboards.commissioning.moves import DOINGS, Ask, Move, entry_id, kept, move
from dashboards.commissioning.notebook import Notebook
from dashboards.commissioning.progress import Progress, Promise, Tally, begun
from dashboards.commissioning.promise import nudged
from dashboards.commissioning.screen import Shot
from dashboards.commissioning.screens import TASKS, live_of, screen_of
from dashboards.commissioning.steps import STEPS, after, passed_over
from dashboards.commissioning.typed import Typed
from tests.dashboards.commissioning.rig import START_MS, K, setup_of
from tests.dashboards.specimens import english, now, spread_of

NAMED = (moves_meters, moves_water)  # they name the buttons

SETUP = setup_of()
LINE = SETUP.lines[0]
DH = DH_MMOL_L


def rows(ec: float = 400.0, pulses: int = 0, seconds: int = 60) -> Rows:
    """A quiet minute up to some seconds after the start, all pulses in its first half."""
    counts = np.zeros(seconds, dtype=np.int64)
    counts[5] = pulses
    return Rows(
        at_ms=START_MS + 5000 - 1000 * np.arange(seconds, dtype=np.int64)[::-1],
        outlet_us_cm=np.full(seconds, ec),
        outlet_temp_c=np.full(seconds, 14.0),
        inlet_us_cm=np.full(seconds, ec),
        inlet_temp_c=np.full(seconds, 14.0),
        pulses=counts,
        flags=np.zeros(seconds, dtype=np.int64),
    )


def press(page: Progress, step: str, act: str, seen: Rows | None = None, **typed: str) -> Move:
    """Press a button."""
    ask = Ask(
        page=page,
        line=LINE,
        typed=Typed(fields=typed, reader=english(), local=LocalTime()),
        rows=rows() if seen is None else seen,
        who="Ada",
        now_ms=START_MS,
    )
    return move(ask, step, act)


def counted(page: Progress, water: str, *drops: int) -> Progress:
    """Press "One drop" so often, then "It has turned", for each count."""
    for count in drops:
        for _ in range(count):
            page = press(page, water, "drop").page
        page = press(page, water, "turned").page
    return page


@pytest.mark.parametrize(
    ("counts", "drops"),
    [((16,), None), ((16, 16), 16.0), ((16, 15), 15.5), ((16, 13), None), ((16, 13, 15), 15.0)],
)
def test_counts_agree_within_one_drop_or_a_third_decides(
    counts: tuple[int, ...], drops: float | None
) -> None:
    """Two counts within a drop are their middle; of three it is the middle one."""
    assert agreed(Tally(counts=counts)) == drops


def test_a_count_says_between_which_ends_the_truth_lies() -> None:
    """Sixteen drops of 1 dH: between 15 and 16 dH; of alkalinity the same in meq/L."""
    page = begun("bar", START_MS)
    hard = reading("hardness", Tally(counts=(16, 16)), page)
    alkaline = reading("alkalinity", Tally(counts=(13, 13)), page)

    assert hard is not None
    assert alkaline is not None
    assert (hard.low, hard.high) == pytest.approx((15 * DH, 16 * DH))
    assert (alkaline.low, alkaline.high) == pytest.approx((24 * DH, 26 * DH))


def test_raw_water_becomes_one_drop_test() -> None:
    """Both kinds, with the size of their drops; then the proposal is next."""
    page = counted(begun("bar", START_MS), "raw", 16, 16, 13, 14)
    found = press(page, "raw", "pass", chloride="18")
    test = found.acts["test"]

    assert isinstance(test, DropTest)
    assert test.point is Point.RAW
    assert test.hardness_mmol_l == pytest.approx(16 * DH)
    assert test.alkalinity_meq_l == pytest.approx(27 * DH)
    assert test.alkalinity_step_meq_l == pytest.approx(2 * DH)
    assert (found.page.here, found.page.chloride_mg_l) == ("proposal", 18.0)


def test_what_is_not_finished_does_not_pass_but_can_be_left() -> None:
    """Pass stays shut; the way on does not."""
    page = counted(begun("bar", START_MS), "raw", 16)
    tried = press(page, "raw", "pass")
    left = press(tried.page, "raw", "leave")

    assert tried.acts == {} or set(tried.acts) == {"work"}
    assert "raw" not in tried.page.taken
    assert left.page.here == "proposal"
    assert left.page.tally("raw", "hardness").counts == (16,)


@pytest.mark.parametrize(
    ("typed", "low", "middle"),
    [
        ({"before": "new"}, 0.0, 0.0),
        ({"before": "some", "before_low": "900"}, 900.0, 900.0),
        ({"before": "some", "before_low": "1 200", "before_high": "800"}, 800.0, 1000.0),
        ({"before": "unknown"}, None, None),
    ],
)
def test_a_part_used_cartridge_takes_the_same_road(
    typed: dict[str, str], low: float | None, middle: float | None
) -> None:
    """New, a number, a range, or not known."""
    found = press(begun("bar", START_MS), "cartridge", "pass", cartridge_id="H-1", **typed)
    act = found.acts["cartridge"]

    assert isinstance(act, CartridgeFitted)
    assert (found.page.cartridge.low_l, act.litres_before) == (low, middle)
    assert act.litres_before_sd == pytest.approx(400 / 12**0.5 if "before_high" in typed else 0.0)
    assert found.page.here == "raw"


def test_jugs_give_a_k_factor_with_its_spread() -> None:
    """Three at full flow, three in a thin stream; the K-factor is an act."""
    page = begun("bar", START_MS)
    for pulses in (905, 911, 907, 890, 885, 893):
        page = press(page, "jugs", "start").page
        page = msgspec.structs.replace(page, since_ms=START_MS - 56_000)
        page = press(page, "jugs", "count", rows(pulses=pulses), jug="2.00").page
    found = press(page, "jugs", "pass")
    act = found.acts["k"]

    assert isinstance(act, KFactorSet)
    assert K * 0.98 < act.pulses_per_l < K * 1.01
    assert act.relative_sd < 0.02


def test_a_jug_apart_from_the_others_is_left_out() -> None:
    """With a fourth, the one furthest from their middle goes."""
    page = begun("bar", START_MS)
    for pulses in (905, 1100, 907, 909):
        page = press(page, "jugs", "start").page
        page = msgspec.structs.replace(page, since_ms=START_MS - 56_000)
        page = press(page, "jugs", "count", rows(pulses=pulses), jug="2").page

    assert [jug.pulses for jug in page.done.jugs_full] == [905, 907, 909]


def promise() -> Promise:
    """A quarter round the bed: 6 dH of hardness, 3.3 dH of alkalinity."""
    hard = spread_of(np.array([5.2, 5.9, 6.4]) * DH)
    alkaline = spread_of(np.array([3.1, 3.3, 3.7]) * 2 * DH)
    plain = spread_of(np.array([1.0, 2.0, 3.0]))
    return Promise(
        family="hydrogen", share=0.25, hardness_mmol_l=hard, alkalinity_meq_l=alkaline,
        calcium_mmol_l=hard, ec25_us_cm=plain, ph=plain, chloride_mg_l=plain,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("hardness", "alkalinity", "off"), [(6, 4, 0), (14, 10, 1), (6, 9, 1), (2, 1, -1)]
)
def test_blended_water_says_which_way_to_turn(hardness: int, alkalinity: int, off: int) -> None:
    """Too much of either: down; too little: up; and a share to turn to."""
    page = counted(begun("bar", START_MS), "raw", 15, 15, 13, 13)
    page = msgspec.structs.replace(page, promise=promise(), set_share=0.25)
    page = counted(page, "blended", hardness, hardness, alkalinity, alkalinity)
    inside = all(c.sign == PASS for c in checks_of("blended", page, LINE, english()))

    assert blend_off(page, LINE) == off
    assert inside == (off == 0)


def test_turning_the_head_writes_the_test_and_the_setting_down() -> None:
    """Then the drops are counted anew."""
    page = counted(begun("bar", START_MS), "raw", 15, 15, 13, 13)
    page = msgspec.structs.replace(page, promise=promise(), set_share=0.25)
    page = counted(page, "blended", 14, 14, 10, 10)
    found = press(page, "blended", "again", share="10")

    assert isinstance(found.acts["test"], DropTest)
    assert isinstance(found.acts["set"], BypassSet)
    assert found.page.set_share == pytest.approx(0.1)
    assert found.page.tally("blended", "hardness") == Tally()


@given(st.floats(0.0, 0.9), st.booleans())
def test_a_press_goes_to_the_next_mark(share: float, up: bool) -> None:
    """Onto a twentieth, at most one away, never past the ends."""
    found = nudged(share, up)

    assert found * 20 == pytest.approx(round(found * 20))
    assert abs(found - share) <= 0.05 + 1e-6
    assert (found >= share) == up or found in (0.0, 0.9) or abs(found - share) < 1e-6


def test_steps_without_their_meter_are_passed_over() -> None:
    """And said so."""
    bare = setup_of(outlet_probe=False, inlet_probe=False, flow_meter=False).lines[0]
    left = [step for step in STEPS if not passed_over(step, bare)]

    assert left == ["flush", "cartridge", "raw", "proposal", "bypass", "blended", "handover"]
    assert after("proposal", bare) == "bypass"


def pressed(page: Progress, step: str, act: str, seen: Rows, typed: dict[str, str]) -> Move | None:
    """Press a button; None where it refuses, naming a field and a fault that has its sentence."""
    try:
        return press(page, step, act, seen, **typed)
    except ActRefused as refused:
        said = faults_said(refused, english())
    assert said
    assert all(sentence.endswith(".") for sentence in said)
    return None


WORDS = st.sampled_from(["", "0", "1", "2.0", "30", "-5", "1e9", "x" * 70, "new", "some", "nan"])
FIELDS = ("flushed", "flush_asked", "cartridge_id", "before", "before_low", "value", "drop",
          "kind", "share", "label", "temp", "jug", "ec25", "chloride", "ph", "back")  # fmt: skip
QUICK = sorted(pair for pair in DOINGS if pair[0] != "proposal")
PRESSES = st.tuples(
    st.sampled_from([*QUICK, *((step, "leave") for step in STEPS)]),
    st.dictionaries(st.sampled_from(FIELDS), WORDS, max_size=4),
    st.sampled_from([0.4, 300.0, 1330.0]),
    st.sampled_from([0, 900, 905]),
)


@settings(max_examples=60)
@given(st.lists(PRESSES, max_size=30))
def test_any_order_of_buttons_leaves_a_page_that_is_the_same_after_a_reload(
    presses: list[tuple[tuple[str, str], dict[str, str], float, int]],
) -> None:
    """Whatever is pressed and typed: the page reads back as it was, and every step can be shown."""
    page = begun("bar", START_MS)
    for (step, act), typed, ec, pulses in presses:
        seen = rows(ec, pulses)
        found = pressed(page, step, act, seen, typed)
        if found is None:
            continue
        for name in found.acts:
            assert len(entry_id(found.page, step, name)) <= 60
        page = kept(found.page, step, dict.fromkeys(found.acts, "act-1"), START_MS)
        again = msgspec.json.decode(msgspec.json.encode(page), type=Progress)
        assert again == page
        page = again
    for step in TASKS:
        shot = Shot(site=SETUP, line=LINE, page=page, rows=rows(), reader=english(),
                    when=now(START_MS))  # fmt: skip
        if step != "proposal":
            assert screen_of(shot, step).task.sentence
        assert len(live_of(shot, step)) < 8


def test_the_notebook_keeps_each_line_and_sets_a_broken_file_aside(tmp_path: object) -> None:
    """A page is what was kept; a file that is none of ours is moved away, not overwritten."""
    from pathlib import Path

    store = Path(str(tmp_path)) / "a.sqlite"
    book = Notebook(store)
    page = counted(book.page("bar", START_MS), "raw", 7)
    book.keep(page)

    assert Notebook(store).page("bar", START_MS) == page
    assert not book.has("terrace")
    file = store.with_name("a.sqlite.fitting")
    file.write_bytes(file.read_bytes()[:-9])
    assert Notebook(store).page("bar", START_MS) == begun("bar", START_MS)
    assert store.with_name("a.sqlite.fitting.broken").exists()
