"""Following the alarms of the box itself: the same lives, fed with plain values at each look."""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.alarm import Host, Situation, site_rules
from analytics.alarm_life import BORN, Life, by_hand
from analytics.samples import AlarmChange, AnyEvent
from analytics.setup import LineSetup
from analytics.watch import ACTS, evaluate, told_at_ms

NO_LINE: Final = LineSetup(line_id="", medium="")


class HostWatch(msgspec.Struct, frozen=True, kw_only=True):
    """Where the alarms of the box stand, followed up to `at_ms`; time never runs back here."""

    at_ms: int = 0
    lives: dict[str, Life] = {}


def follow_host(
    watch: HostWatch, host: Host, events: tuple[AnyEvent, ...]
) -> tuple[HostWatch, tuple[AlarmChange, ...]]:
    """Take in acts told since the last look, then follow every alarm of the box to this one."""
    if host.at_ms <= watch.at_ms:
        return watch, ()
    lives, changes = dict(watch.lives), list[AlarmChange]()
    acts = [e for e in events if isinstance(e, ACTS) and told_at_ms(e) > watch.at_ms]
    for act in sorted(acts, key=lambda e: (told_at_ms(e), e.event_id)):
        if told_at_ms(act) > host.at_ms:
            continue
        for rule in site_rules():
            life = lives.get(rule.name, BORN)
            lives[rule.name], made = by_hand(rule, life, act, told_at_ms(act))
            changes += made
    now = Situation(at_ms=host.at_ms, line=NO_LINE, host=host)
    lives, moved = evaluate(site_rules(), lives, now, frozenset())
    return HostWatch(at_ms=host.at_ms, lives=lives), (*changes, *moved)
