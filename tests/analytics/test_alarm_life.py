"""The life of an alarm keeps the standard's invariants, whatever happens in whatever order."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from analytics.alarm import Priority, Rule, Situation, line_rules, rules, site_rules
from analytics.alarm_life import BORN, LONGEST_SHELF_MS, Life, Phase, by_hand, due_ms, live_on
from analytics.samples import (
    Acknowledged,
    AlarmChange,
    InService,
    OutOfService,
    Shelved,
    Unshelved,
)
from analytics.setup import LineSetup

LINE = LineSetup(line_id="bar", medium="hydrogen")
ON_S, OFF_S, BAND = 60.0, 120.0, 2.0
T0 = 1_700_000_000_000


def plain(**changes: object) -> Rule:
    """A rule whose excess is the litres passed of the estimate's place: see `at`."""
    settings_: dict[str, object] = {
        "name": "test",
        "priority": Priority.MEDIUM,
        "respond_within_s": 60.0,
        "excess": lambda now: now.flow.shut_l if now.flow.shut_l > -100.0 else None,
        "on_delay_s": ON_S,
        "off_delay_s": OFF_S,
        "deadband": BAND,
    }
    return Rule(**(settings_ | changes))  # type: ignore[arg-type]


def at(seconds: float, excess: float | None) -> Situation:
    """A situation so many seconds after the beginning in which the limit is passed by this."""
    now = Situation(at_ms=T0 + round(seconds * 1000), line=LINE)
    flow = msgspec.structs.replace(now.flow, shut_l=-1000.0 if excess is None else excess)
    return msgspec.structs.replace(now, flow=flow)


def follow(
    rule: Rule, steps: list[tuple[float, float | None]], life: Life = BORN
) -> tuple[Life, list[AlarmChange]]:
    """Through (seconds, excess)."""
    told: list[AlarmChange] = []
    for seconds, excess in steps:
        life, made = live_on(rule, life, at(seconds, excess), False)
        told += made
    return life, told


def told(changes: list[AlarmChange]) -> list[tuple[str, str]]:
    return [(change.change, change.state) for change in changes]


def test_nothing_is_raised_before_its_on_delay() -> None:
    """A limit passed for less than the on-delay is no alarm; one passed for all of it is."""
    rule = plain()

    assert follow(rule, [(0, 1.0), (59, 1.0), (60, -1.0), (61, 1.0), (120, 1.0)])[1] == []
    assert told(follow(rule, [(0, 1.0), (60, 1.0)])[1]) == [("raised", "unacknowledged")]


def test_an_alarm_ends_beyond_its_deadband_and_after_its_off_delay() -> None:
    """Back under the limit is not enough: it must be under it by the deadband, for long enough."""
    rule = plain()
    life, _ = follow(rule, [(0, 1.0), (60, 1.0)])

    assert follow(rule, [(100, -1.9), (400, -1.9)], life)[0].active
    ended, changes = follow(rule, [(100, -2.1), (219, -2.1), (220, -2.1)], life)
    assert not ended.active
    assert told(changes) == [("cleared", "returned-unacknowledged")]


def test_what_nobody_can_tell_changes_nothing() -> None:
    """Without a figure an alarm neither comes nor goes."""
    rule = plain()
    life, _ = follow(rule, [(0, 1.0), (60, 1.0)])

    assert follow(rule, [(100, None), (9999, None)], life) == (life, [])


def test_acknowledging_before_and_after_the_return() -> None:
    """Seen, then over: normal. Over, then seen: normal. Never seen: it stays."""
    rule = plain(on_delay_s=0.0, off_delay_s=0.0)
    seen = Acknowledged(at_ms=T0 + 5000, alarm="test", who="barista")
    raised, _ = follow(rule, [(0, 1.0)])

    acknowledged, made = by_hand(rule, raised, seen, seen.at_ms)
    assert told(list(made)) == [("acknowledged", "acknowledged")]
    assert made[0].who == "barista"
    assert follow(rule, [(9, -3.0)], acknowledged)[0].phase is Phase.NORMAL
    returned, _ = follow(rule, [(9, -3.0)], raised)
    assert returned.phase is Phase.RETURNED
    assert by_hand(rule, returned, seen, seen.at_ms)[0].phase is Phase.NORMAL


def test_a_slight_alarm_needs_no_acknowledgement_once_it_is_over() -> None:
    """Where the rule says so, the return ends it."""
    rule = plain(on_delay_s=0.0, off_delay_s=0.0, must_be_seen=False)
    life, changes = follow(rule, [(0, 1.0), (1, -3.0)])

    assert told(changes) == [("raised", "unacknowledged"), ("cleared", "normal")]
    assert life.phase is Phase.NORMAL


def test_a_shelf_ends_by_itself_and_brings_back_what_still_stands() -> None:
    """Reason, person and end are kept; at the end it is unacknowledged again, or normal."""
    rule = plain(on_delay_s=0.0, off_delay_s=0.0)
    raised, _ = follow(rule, [(0, 1.0)])
    act = Shelved(at_ms=T0 + 1000, alarm="test", until_ms=T0 + 60_000, who="Ada", note="plumber")
    shelved, (change,) = by_hand(rule, raised, act, act.at_ms)

    assert (change.state, change.who, change.text, change.until_ms) == (
        "shelved",
        "Ada",
        "plumber",
        T0 + 60_000,
    )
    assert due_ms(rule, shelved) == T0 + 60_000
    assert told(follow(rule, [(30, 1.0), (60, 1.0)], shelved)[1]) == [
        ("unshelved", "unacknowledged")
    ]
    assert told(follow(rule, [(30, -3.0), (60, -3.0)], shelved)[1]) == [("unshelved", "normal")]


def test_nothing_stays_on_the_shelf_for_ever() -> None:
    """A shelf without a sensible end ends after a month; one that ends before it begins is none."""
    rule = plain()
    far = Shelved(at_ms=T0, alarm="test", until_ms=1 << 60)
    past = Shelved(at_ms=T0, alarm="test", until_ms=T0 - 1)

    assert by_hand(rule, BORN, far, T0)[0].shelved_until_ms == T0 + LONGEST_SHELF_MS
    assert by_hand(rule, BORN, past, T0) == (BORN, ())


def test_suppressed_by_design_says_nothing_and_comes_back() -> None:
    """Hidden while its reason lasts, raised when that is over and the condition still stands."""
    rule = plain(on_delay_s=0.0, off_delay_s=0.0)
    life, hidden = live_on(rule, BORN, at(0, 1.0), True)
    back, shown = live_on(rule, life, at(10, 1.0), False)

    assert told(list(hidden)) == [("suppressed", "suppressed-by-design")]
    assert told(list(shown)) == [("unsuppressed", "unacknowledged")]
    assert told(list(live_on(rule, life, at(10, -3.0), True)[1])) == [("cleared", "normal")]
    assert live_on(rule, BORN, at(0, -3.0), True) == (BORN, ())
    assert back.phase is Phase.UNACKNOWLEDGED


def test_acts_on_another_alarm_change_nothing() -> None:
    """An act names its alarm."""
    act = Acknowledged(at_ms=T0, alarm="other")
    raised, _ = follow(plain(on_delay_s=0.0), [(0, 1.0)])

    assert by_hand(plain(), raised, act, T0) == (raised, ())


def test_every_rule_says_by_when_to_respond_and_what_hides_it_exists() -> None:
    """Names are one of a kind; hiding has no ring and names rules that are there."""
    names = [r.name for r in rules()]

    assert len(names) == len(set(names))
    assert len(line_rules()) + len(site_rules()) == len(names)
    for each in rules():
        assert each.respond_within_s > 0
        assert set(each.hidden_by) <= set(names)
        assert each.deadband >= 0


class Lifetime(RuleBasedStateMachine):
    """Conditions, acts, hiding and steps of time in any order."""

    def __init__(self) -> None:
        super().__init__()
        self.rule = plain(on_delay_s=5.0, off_delay_s=7.0)
        self.life = BORN
        self.now_s = 0.0
        self.excess: float | None = -3.0
        self.hidden = False
        self.journal: list[AlarmChange] = []
        self.passed_since: float | None = None

    def step(self) -> None:
        """Look at the alarm at this instant."""
        self.life, made = live_on(self.rule, self.life, at(self.now_s, self.excess), self.hidden)
        self.journal += made

    @rule(excess=st.sampled_from([None, -3.0, -1.0, 0.5, 9.0]), wait=st.floats(0, 20))
    def turn(self, excess: float | None, wait: float) -> None:
        """Time passes, then the condition is another."""
        self.pass_time(wait)
        self.excess = excess
        self.step()

    @rule(wait=st.floats(0, 40))
    def pass_time(self, wait: float) -> None:
        """Time passes; delays and shelves that end on the way are seen at their instant."""
        end = self.now_s + wait
        while (due := due_ms(self.rule, self.life)) is not None:
            due_s = (due - T0) / 1000
            if not self.now_s < due_s <= end:
                break
            self.now_s = due_s
            self.step()
        self.now_s = end
        self.step()

    @rule(hidden=st.booleans())
    def hide(self, hidden: bool) -> None:
        """An announced closure begins or ends."""
        self.hidden = hidden
        self.step()

    @rule(kind=st.sampled_from([Acknowledged, Unshelved, OutOfService, InService]))
    def act(self, kind: type[Acknowledged]) -> None:
        """A person does something about it."""
        now = T0 + round(self.now_s * 1000)
        self.life, made = by_hand(self.rule, self.life, kind(at_ms=now, alarm="test"), now)
        self.journal += made
        self.step()

    @rule(seconds=st.integers(1, 60))
    def shelve(self, seconds: int) -> None:
        """A person puts it aside."""
        now = T0 + round(self.now_s * 1000)
        act = Shelved(at_ms=now, alarm="test", until_ms=now + seconds * 1000)
        self.life, made = by_hand(self.rule, self.life, act, now)
        self.journal += made

    @invariant()
    def phase_agrees_with_condition(self) -> None:
        """Unacknowledged and acknowledged stand; normal and returned do not."""
        if self.life.phase in (Phase.UNACKNOWLEDGED, Phase.ACKNOWLEDGED):
            assert self.life.active
            assert not self.hidden
        if self.life.phase in (Phase.NORMAL, Phase.RETURNED):
            assert not self.life.active
        if self.life.phase is Phase.SUPPRESSED:
            assert self.life.active
            assert self.hidden

    @invariant()
    def no_shelf_beyond_its_end(self) -> None:
        """A shelf that is over holds nothing."""
        if self.life.phase is Phase.SHELVED:
            assert self.life.shelved_until_ms >= T0 + round(self.now_s * 1000)

    @invariant()
    def journal_tells_the_phase(self) -> None:
        """The last stored change says where the alarm stands, and time never runs back."""
        if self.journal:
            assert self.journal[-1].state == self.life.phase.value
        else:
            assert self.life.phase is Phase.NORMAL
        instants = [change.at_ms for change in self.journal]
        assert instants == sorted(instants)

    @invariant()
    def every_transition_is_one_of_the_standard(self) -> None:
        """From state to state as ISA-18.2 has it."""
        states = ["normal", *(change.state for change in self.journal)]
        for before, after, change in zip(states, states[1:], self.journal, strict=False):
            assert change.change in ALLOWED[before, after], (before, after, change.change)


N, U, A, R = "normal", "unacknowledged", "acknowledged", "returned-unacknowledged"
SHELF, DESIGN, OUT = "shelved", "suppressed-by-design", "out-of-service"
ALLOWED: dict[tuple[str, str], set[str]] = {
    (N, U): {"raised"},
    (R, U): {"raised"},
    (U, A): {"acknowledged"},
    (U, R): {"cleared"},
    (A, N): {"cleared"},
    (R, N): {"acknowledged"},
    (DESIGN, N): {"cleared"},
    (DESIGN, U): {"unsuppressed"},
    (SHELF, N): {"unshelved"},
    (SHELF, U): {"unshelved"},
    (SHELF, SHELF): {"shelved"},
    (OUT, N): {"in-service"},
    (OUT, U): {"in-service"},
    **{(state, DESIGN): {"suppressed"} for state in (N, U, A, R)},
    **{(state, SHELF): {"shelved"} for state in (N, U, A, R, DESIGN)},
    **{(state, OUT): {"out-of-service"} for state in (N, U, A, R, DESIGN, SHELF)},
}

TestLifetime = pytest.mark.timeout(120)(Lifetime.TestCase)
TestLifetime.settings = settings(max_examples=150, stateful_step_count=40)
