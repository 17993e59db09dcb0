"""Enrolment in the records: a code is given, used by one box, and a site's logins are ended.

A box makes its own secret and sends it with the code: the fleet hands it to the broker and keeps a
digest. So an answer that was lost costs nothing. The same box asks again, for a short while; the
code is used up for every other.
"""

from __future__ import annotations

import hashlib
import secrets
from typing import Any

import msgspec
from sqlalchemy import Connection, func, select

from analytics.errors import LastLitreError
from firmware_bridge.fleet.identity import codes as code_words
from firmware_bridge.fleet.identity.words import LONGEST_SITE, Claim
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import codes, held, identities, sites

HOUR_MS = 3_600_000
GOOD_FOR_MS = 24 * HOUR_MS
"""How long a code works unless told otherwise."""
AGAIN_FOR_MS = HOUR_MS // 4
"""How long the box that used a code may ask again."""


class CodeRefused(LastLitreError):  # noqa: N818 - the code is refused, the program is well
    """Raised where a code does not work. Whether it was used, has run out, was withdrawn or never
    given is not told: who has no code learns nothing."""

    def __init__(self) -> None:
        super().__init__(
            "This code does not work: it was used already, has run out, or is none of ours.",
            "Ask the service company for a new one.",
        )


class OtherSite(LastLitreError):  # noqa: N818
    """Raised where a code was given for another site; it stays good."""

    def __init__(self) -> None:
        super().__init__(
            "This code was given for a site of another name.",
            "Check the id under [site] with whoever gave you the code.",
        )


class Identity(msgspec.Struct, frozen=True, kw_only=True):
    """Who may speak for a site at the broker, from when, and until when."""

    identity_no: int
    site: str
    login: str
    made_ms: int
    revoked_ms: int | None


def give_code(
    connection: Connection,
    site: str,
    now_ms: int,
    *,
    for_ms: int = GOOD_FOR_MS,
    made_by: int | None = None,
) -> str:
    """A new code for a site, told only now; an earlier one that was not used is withdrawn.

    Raises LastLitreError where no site can be called that.
    """
    if not site.isprintable() or not 0 < len(site) <= LONGEST_SITE or site != site.strip():
        raise LastLitreError(
            f"{site!r} cannot be the id of a site.", "It is the id under [site] in its site file."
        )
    withdraw_codes(connection, site, now_ms)
    code = code_words.new_code()
    connection.execute(
        codes.insert().values(
            digest=code_words.digest_of(code_words.plain(code)),
            site=site,
            made_ms=now_ms,
            until_ms=now_ms + for_ms,
            made_by=made_by,
        )
    )
    return code


def withdraw_codes(connection: Connection, site: str, now_ms: int) -> None:
    """No code of this site works any more, nor may a box that used one ask again."""
    connection.execute(
        codes.update()
        .where(codes.c.site == site, codes.c.until_ms > now_ms)
        .values(until_ms=now_ms, box="")
    )


def waits_until(connection: Connection, site: str, now_ms: int) -> int | None:
    """Until when a code of this site works that nobody has used; None where there is none."""
    asked = select(func.max(codes.c.until_ms)).where(
        codes.c.site == site, codes.c.used_ms.is_(None), codes.c.until_ms > now_ms
    )
    found: int | None = connection.scalar(asked)
    return found


def take_code(connection: Connection, claim: Claim, now_ms: int) -> Identity:
    """The identity a box gets for its code: a new one, or, asked again, the one it was given.

    Raises LastLitreError for a mistyped code, CodeRefused, OtherSite. Of two boxes that use a code
    at one moment only one gets an identity.
    """
    digest = code_words.digest_of(code_words.plain(claim.code))
    found = connection.execute(select(codes).where(codes.c.digest == digest)).mappings().first()
    box = digest_of_box(claim.secret)
    if found is None:
        raise CodeRefused
    if found["used_ms"] is not None:
        return _again(connection, found, box, claim.site, now_ms)
    if found["until_ms"] <= now_ms:
        raise CodeRefused
    if found["site"] != claim.site:
        raise OtherSite
    return _first(connection, found["code_no"], box, claim.site, now_ms)


def enter_site(connection: Connection, records: Records, site: str, now_ms: int) -> None:
    """A site that a person gave a code for is one of ours, heard of or not."""
    new = {"site": site, "state": "adopted", "first_heard_ms": now_ms}
    connection.execute(records.upsert(sites, ("site",)), new)
    number = connection.scalars(select(sites.c.site_no).where(sites.c.site == site)).one()
    connection.execute(records.upsert(held, ("site_no",)), {"site_no": number})
    waits = (sites.c.site_no == number) & (sites.c.state == "unknown")
    connection.execute(sites.update().where(waits).values(state="adopted"))


def active_of(connection: Connection, site: str) -> list[Identity]:
    """The identities of a site that were not revoked."""
    asked = select(identities).where(identities.c.site == site, identities.c.revoked_ms.is_(None))
    return [as_struct(Identity, row) for row in connection.execute(asked).mappings()]


def mark_revoked(connection: Connection, login: str, now_ms: int) -> None:
    """Note that a login works no more."""
    connection.execute(
        identities.update()
        .where(identities.c.login == login, identities.c.revoked_ms.is_(None))
        .values(revoked_ms=now_ms)
    )


def digest_of_box(secret: str) -> str:
    """By what a box is known again: never the secret itself."""
    return hashlib.sha256(b"box " + secret.encode()).hexdigest()


def _first(connection: Connection, code_no: int, box: str, site: str, now_ms: int) -> Identity:
    login = f"site-{secrets.token_hex(8)}"
    taken = connection.execute(
        codes.update()
        .where(codes.c.code_no == code_no, codes.c.used_ms.is_(None))
        .values(used_ms=now_ms, until_ms=now_ms + AGAIN_FOR_MS, box=box, login=login)
    )
    if taken.rowcount != 1:  # another box was quicker
        raise CodeRefused
    connection.execute(identities.insert().values(site=site, login=login, made_ms=now_ms))
    return _by_login(connection, login)


def _again(connection: Connection, found: Any, box: str, site: str, now_ms: int) -> Identity:
    same = secrets.compare_digest(found["box"], box) and found["site"] == site
    if not same or found["until_ms"] <= now_ms:
        raise CodeRefused
    identity = _by_login(connection, found["login"])
    if identity.revoked_ms is not None:
        raise CodeRefused
    return identity


def _by_login(connection: Connection, login: str) -> Identity:
    asked = select(identities).where(identities.c.login == login)
    return as_struct(Identity, connection.execute(asked).mappings().one())
