"""What is due: once each, quiet hours, repetition, escalation, digest; from the journal alone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, AlarmChange
from analytics.setup import LocalTime
from firmware_bridge.notify.due import BEGIN, MOST_AGAIN, due, is_quiet
from firmware_bridge.notify.episodes import Episodes, taken_in
from firmware_bridge.notify.notice import Notice
from firmware_bridge.notify.policy import Policy
from firmware_bridge.store.alarms import KnownChange
from tests.firmware_bridge.notify.told import NOON, change

UTC = LocalTime()
NIGHT = (22 * 60, 24 * 60 + 6 * 60)
BEGUN = {BEGIN: NOON - 10 * DAY_MS}


def episodes(*changes: AlarmChange) -> Episodes:
    known = [KnownChange(seq=n + 1, line_id="bar", change=c) for n, c in enumerate(changes)]
    return taken_in(Episodes(), known)


def asked(
    found: Episodes,
    now_ms: int,
    sent: dict[str, int] | None = None,
    *,
    local: LocalTime = UTC,
    **policy: object,
) -> tuple[Notice, ...]:
    wishes = Policy(**({"least": "low"} | policy))  # type: ignore[arg-type]
    return due("hs", found, BEGUN | (sent or {}), wishes, local, now_ms)


def keys(notices: tuple[Notice, ...]) -> list[str]:
    return [notice.key for notice in notices]


def test_a_raising_is_told_once() -> None:
    """Its key is known afterwards, and it is not due again."""
    found = episodes(change())
    (notice,) = asked(found, NOON + 1000)

    assert notice.key == "hs/bar/leak/1/raised"
    assert asked(found, NOON + 2000, {notice.key: NOON + 1000}) == ()


def test_what_is_less_urgent_than_wished_is_not_told() -> None:
    """Nor is its end."""
    found = episodes(change("data-gap", priority="low"), change(priority="medium"))

    assert keys(asked(found, NOON + 1, least="medium")) == ["hs/bar/leak/2/raised"]
    assert keys(asked(found, NOON + 1, least="high")) == []


def test_the_end_is_told_to_whom_the_raising_was() -> None:
    """And only if it is wished."""
    found = episodes(change(), change("leak", "cleared", "returned-unacknowledged"))
    sent = {"hs/bar/leak/1/raised": NOON}

    assert keys(asked(found, NOON + 1, sent)) == ["hs/bar/leak/1/cleared"]
    assert asked(found, NOON + 1, sent, cleared=False) == ()


def test_quiet_hours_hold_back_all_but_the_urgent() -> None:
    """What waited is told in the morning, if it still stands."""
    eleven, seven = NOON + 11 * HOUR_MS, NOON + 19 * HOUR_MS
    found = episodes(change("change-now", priority="medium", at_ms=eleven), change(at_ms=eleven))

    assert keys(asked(found, eleven + 1, quiet=NIGHT)) == ["hs/bar/leak/2/raised"]
    assert len(asked(found, seven, quiet=NIGHT)) == 2
    over = change("data-gap", "cleared", "normal", priority="low", at_ms=eleven + HOUR_MS)
    brief = episodes(change("data-gap", priority="low", at_ms=eleven), over)
    assert asked(brief, seven, quiet=NIGHT) == ()


def test_quiet_hours_are_those_of_the_sites_own_clock() -> None:
    """22 to 6 by a clock two hours east."""
    east, hours = LocalTime(offset_s=(7200,)), Policy(quiet=NIGHT)

    assert is_quiet(hours, east, NOON + 8 * HOUR_MS)
    assert not is_quiet(hours, UTC, NOON + 8 * HOUR_MS)
    assert is_quiet(hours, UTC, NOON + 17 * HOUR_MS)
    assert not is_quiet(hours, UTC, NOON + 18 * HOUR_MS)
    assert not is_quiet(Policy(), UTC, NOON)


def test_what_nobody_answers_is_told_again_a_few_times() -> None:
    """Every hour, five times at most, and not once it is acknowledged."""
    found, sent = episodes(change()), {"hs/bar/leak/1/raised": NOON}
    told = 0
    for minute in range(0, 24 * 60, 5):
        for notice in asked(found, NOON + minute * MINUTE_MS, sent, again_s=3600.0):
            sent[notice.key] = NOON + minute * MINUTE_MS
            told += 1
    seen = episodes(change(), change("leak", "acknowledged", "acknowledged"))

    assert told == MOST_AGAIN
    assert asked(seen, NOON + DAY_MS, {"hs/bar/leak/1/raised": NOON}, again_s=3600.0) == ()


def test_escalation_comes_once_and_only_unanswered() -> None:
    """Half an hour without an answer; a slight alarm is nobody else's business."""
    found, sent = episodes(change()), {"hs/bar/leak/1/raised": NOON}
    late = NOON + 31 * MINUTE_MS
    slight = episodes(change("data-gap", priority="low"))

    assert keys(asked(found, late, sent, escalate_s=1800.0)) == ["hs/bar/leak/1/escalated"]
    assert asked(found, NOON + MINUTE_MS, sent, escalate_s=1800.0) == ()
    again = sent | {"hs/bar/leak/1/escalated": late}
    assert asked(found, late + DAY_MS, again, escalate_s=1800.0) == ()
    of_slight = {"hs/bar/data-gap/1/raised": NOON}
    assert asked(slight, late, of_slight, escalate_s=1800.0) == ()


def test_set_aside_is_not_told_and_comes_back_with_its_own_raising() -> None:
    """Shelved before it was told: nothing. Taken back: told."""
    shelf = change("leak", "shelved", "shelved")
    back = change("leak", "unshelved", "unacknowledged")
    hidden = episodes(change("leak", "suppressed", "suppressed-by-design"))
    shown = episodes(
        change("leak", "suppressed", "suppressed-by-design"),
        change("leak", "unsuppressed", "unacknowledged"),
    )

    assert asked(episodes(change(), shelf), NOON + 1) == ()
    assert keys(asked(episodes(change(), shelf, back), NOON + 1)) == ["hs/bar/leak/1/raised"]
    assert asked(hidden, NOON + 1) == ()
    assert keys(asked(shown, NOON + 1)) == ["hs/bar/leak/2/raised"]


def test_what_came_and_went_while_nobody_could_be_reached_is_told() -> None:
    """Unless it was slight, or ended before this notifier ever ran."""
    ended = change("leak", "cleared", "returned-unacknowledged", at_ms=NOON + 1000)
    found = episodes(change(), ended)

    assert keys(asked(found, NOON + HOUR_MS)) == ["hs/bar/leak/1/raised"]
    assert asked(found, NOON + HOUR_MS, {BEGIN: NOON + 2000}) == ()


def test_digest_comes_once_a_day_and_lists_what_stands() -> None:
    """At half past one; a day that was missed is not made up for."""
    found = episodes(
        change("data-gap", priority="low"),
        change(),
        change("change-now", priority="medium", at_ms=NOON - 2 * DAY_MS),
    )
    sent = {f"hs/bar/{a}/{n}/raised": NOON for a, n in (("data-gap", 1), ("leak", 2))}
    sent["hs/bar/change-now/3/raised"] = NOON
    half_past_one = NOON + 90 * MINUTE_MS

    assert asked(found, half_past_one - 1, sent, digest_min=13 * 60 + 30) == ()
    (digest,) = asked(found, half_past_one, sent, digest_min=13 * 60 + 30)
    assert [c.alarm for _, c in digest.stands] == ["leak", "change-now", "data-gap"]
    assert digest.new == 2
    later = sent | {digest.key: half_past_one}
    assert asked(found, half_past_one + HOUR_MS, later, digest_min=13 * 60 + 30) == ()
    (next_day,) = asked(found, half_past_one + 3 * DAY_MS, later, digest_min=13 * 60 + 30)
    assert next_day.key != digest.key


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["leak", "change-now"]),
        st.sampled_from(["raised", "cleared", "acknowledged", "shelved", "unshelved"]),
        st.integers(0, 90),
        st.booleans(),
    ),
    max_size=30,
)
STATES = {
    "raised": "unacknowledged",
    "cleared": "returned-unacknowledged",
    "acknowledged": "acknowledged",
    "shelved": "shelved",
    "unshelved": "unacknowledged",
}


@given(STEPS)
def test_nothing_is_told_twice_whatever_restarts(
    steps: list[tuple[str, str, int, bool]],
) -> None:
    """Keys are told once each, also where the episodes are read anew from the journal."""
    journal: list[KnownChange] = []
    sent, now, running = dict(BEGUN), NOON, Episodes()
    wishes = Policy(least="low", again_s=1200.0, escalate_s=1800.0)
    for alarm, what, minutes, restart in steps:
        now += minutes * MINUTE_MS
        known = KnownChange(
            seq=len(journal) + 1,
            line_id="bar",
            change=change(alarm, what, STATES[what], at_ms=now, priority="medium"),
        )
        journal.append(known)
        running = taken_in(Episodes(), journal) if restart else taken_in(running, [known])
        notices = due("hs", running, sent, wishes, UTC, now)
        assert len({n.key for n in notices}) == len(notices)
        assert not {n.key for n in notices} & sent.keys()
        sent |= dict.fromkeys((n.key for n in notices), now)
