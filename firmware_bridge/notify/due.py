"""What is to be told now: from episodes, what was told, and the wishes of the site file. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from analytics.samples import DAY_MS, MINUTE_MS
from analytics.setup import LocalTime
from firmware_bridge.notify.episodes import FORGOTTEN_MS, Episode, Episodes
from firmware_bridge.notify.notice import Notice, Why
from firmware_bridge.notify.policy import Policy

RANK = {"low": 0, "medium": 1, "high": 2}
MOST_AGAIN = 5
"""Nobody reads the sixth repetition (common practice)."""
BEGIN = "begin"
"""The first key a notifier ever notes: what ended before is not told."""


def due(
    site_id: str,
    episodes: Episodes,
    sent: Mapping[str, int],
    policy: Policy,
    local: LocalTime,
    now_ms: int,
) -> tuple[Notice, ...]:
    """Every notice that is to go out now, oldest first; `sent` are keys told and when."""
    found: list[Notice] = []
    quiet = is_quiet(policy, local, now_ms)
    everything = sorted((*episodes.ended, *episodes.running.values()), key=lambda e: e.seq)
    for episode in everything:
        found += [
            notice
            for notice in _of_episode(site_id, episode, sent, policy, now_ms)
            if notice.urgent or not quiet
        ]
    if not quiet:
        found += _digest(site_id, episodes, sent, policy, local, now_ms)
    return tuple(found)


def is_quiet(policy: Policy, local: LocalTime, now_ms: int) -> bool:
    """Whether only urgent things may be told now."""
    begin, end = policy.quiet
    minute = _minute_of_day(local, now_ms)
    return any(begin <= minute + more < end for more in (0, 1440))


def _minute_of_day(local: LocalTime, at_ms: int) -> int:
    return (at_ms + local.offset_ms(at_ms)) % DAY_MS // MINUTE_MS


def _of_episode(
    site_id: str, episode: Episode, sent: Mapping[str, int], policy: Policy, now_ms: int
) -> Iterator[Notice]:
    line, alarm = episode.where
    key = f"{site_id}/{line}/{alarm}/{episode.seq}"
    raised_key = f"{key}/{Why.RAISED}"
    told_ms = sent.get(raised_key)
    if told_ms is None:
        if _worth_telling(episode, sent, policy, now_ms):
            yield _notice(episode, raised_key, Why.RAISED)
        return
    if episode.ended_ms is not None:
        cleared = f"{key}/{Why.CLEARED}"
        if policy.cleared and cleared not in sent:
            yield _notice(episode, cleared, Why.CLEARED)
        return
    if episode.hidden or episode.seen:
        return
    yield from _unanswered(episode, key, told_ms, sent, policy, now_ms)


def _worth_telling(episode: Episode, sent: Mapping[str, int], policy: Policy, now_ms: int) -> bool:
    """Whether the raising itself is still to be told.

    What ended before it could be told (nobody listened, or hours were quiet) is told if it was not
    low: it may come back.
    """
    change = episode.change
    if RANK.get(change.priority, 0) < RANK[policy.least]:
        return False
    if episode.ended_ms is None:
        return not (episode.hidden or episode.seen)
    if episode.ended_ms < max(sent.get(BEGIN, 0), now_ms - FORGOTTEN_MS):
        return False
    return change.priority != "low" and not episode.seen


def _unanswered(
    episode: Episode,
    key: str,
    told_ms: int,
    sent: Mapping[str, int],
    policy: Policy,
    now_ms: int,
) -> Iterator[Notice]:
    """Repetition and escalation of what nobody has acknowledged."""
    if RANK.get(episode.change.priority, 0) < RANK["medium"]:
        return
    escalated = f"{key}/{Why.ESCALATED}"
    if policy.escalate_s and escalated not in sent and now_ms - told_ms >= policy.escalate_s * 1000:
        yield _notice(episode, escalated, Why.ESCALATED)
    if not policy.again_s:
        return
    for number in range(1, MOST_AGAIN + 1):
        again = f"{key}/{Why.AGAIN}/{number}"
        if again in sent:
            told_ms = max(told_ms, sent[again])
        elif now_ms - told_ms >= policy.again_s * 1000:
            yield _notice(episode, again, Why.AGAIN)
            return
        else:
            return


def _notice(episode: Episode, key: str, why: Why) -> Notice:
    return Notice(key=key, why=why, line_id=episode.line_id, change=episode.change)


def _digest(
    site_id: str,
    episodes: Episodes,
    sent: Mapping[str, int],
    policy: Policy,
    local: LocalTime,
    now_ms: int,
) -> Iterator[Notice]:
    """The day's digest once its time has come; a day that was missed is not made up for."""
    if policy.digest_min is None or _minute_of_day(local, now_ms) < policy.digest_min:
        return
    day = (now_ms + local.offset_ms(now_ms)) // DAY_MS
    key = f"{site_id}/{Why.DIGEST}/{day}"
    if key in sent or sent.get(BEGIN, now_ms) > now_ms - MINUTE_MS:
        return
    everything = (*episodes.ended, *episodes.running.values())
    yield Notice(
        key=key,
        why=Why.DIGEST,
        stands=tuple((e.line_id, e.change) for e in _worst_first(episodes)),
        new=sum(e.change.at_ms > now_ms - DAY_MS for e in everything),
    )


def _worst_first(episodes: Episodes) -> list[Episode]:
    standing = [e for e in episodes.running.values() if not e.hidden]
    return sorted(standing, key=lambda e: (-RANK.get(e.change.priority, 0), e.seq))
