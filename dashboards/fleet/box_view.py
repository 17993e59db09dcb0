"""Which box speaks for a site, and by which login: what a page tells of it."""

from __future__ import annotations

import msgspec

from dashboards.fleet.asked import Asked
from firmware_bridge.fleet.identity import enrolment
from firmware_bridge.fleet.records.boxes import claim_of


class BoxView(msgspec.Struct, frozen=True, kw_only=True):
    """What is told of a site's box; `others` also claim to be the site.

    `joins` is whether this fleet gives codes at all, `logins` what is told of those that work,
    `revocable` whether there is one or a code that waits. `code` is told once, to whoever asked
    for it, with the line that is typed on the box.
    """

    claimed: str
    others: tuple[str, ...]
    joins: bool
    logins: tuple[str, ...]
    revocable: bool
    code: str
    command: str


def box_view(asked: Asked, code: str = "") -> BoxView:
    """The box of the site that the address names."""
    row, when = asked.here, asked.when
    claim = claim_of(asked.connection, row.site_no)
    active = enrolment.active_of(asked.connection, row.site)
    until_ms = enrolment.waits_until(asked.connection, row.site, asked.now_ms)
    logins = [
        asked.say("box.joined", day=when.medium(when.day(one.made_ms)), login=one.login)
        for one in active
    ]
    if until_ms is not None:
        logins.append(asked.say("box.waits", moment=when.moment(until_ms)))
    claimed = ""
    if claim is not None:
        claimed = asked.say("box.claimed", moment=when.moment(claim.since_ms))
    return BoxView(
        claimed=claimed,
        others=claim.others if claim is not None else (),
        joins=asked.enrolling is not None,
        logins=tuple(logins) or (asked.say("box.none"),),
        revocable=bool(logins),
        code=code,
        command=f"lastlitre join SITE.toml {code} {asked.house.address}",
    )
