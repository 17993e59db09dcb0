"""Tokens for programs: made by a person, shown once, kept as a digest, good for a stated time.

A token sees and does what its person may at the moment it is used, and never more: ending the
person ends it, a customer's token sees that customer's sites.
"""

from __future__ import annotations

import hashlib
import secrets

import msgspec
from sqlalchemy import Connection, func, select

from analytics.errors import LastLitreError
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import people, tokens

PREFIX = "llt_"
"""What every token begins with, so that one that was left lying about is recognised."""
LONGEST = 100
LONGEST_PURPOSE = 80
DAY_MS = 86_400_000
LONGEST_FOR_MS = 366 * DAY_MS
MOST = 50
"""Tokens of one person that work at one time."""
NOTED_EVERY_MS = 60_000
"""How exact "last used" is: a token that is used much does not write much."""


class Token(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of a token; not the token."""

    token_no: int
    person_no: int
    what_for: str
    may_change: bool
    made_ms: int
    until_ms: int
    revoked_ms: int | None
    used_ms: int | None

    def works(self, now_ms: int) -> bool:
        """Whether it is good at this moment, as far as it goes itself."""
        return self.revoked_ms is None and now_ms < self.until_ms


class Bearer(msgspec.Struct, frozen=True, kw_only=True):
    """Who a token speaks for, as that person stands now."""

    token_no: int
    person_no: int
    role: str
    customer_no: int | None
    may_change: bool


def make_token(
    connection: Connection,
    person_no: int,
    what_for: str,
    now_ms: int,
    *,
    for_ms: int,
    may_change: bool = False,
) -> tuple[int, str]:
    """A new token: its number and its text, told only now.

    Raises LastLitreError for a purpose or time that cannot be, or where the person has too many.
    """
    if not is_purpose(what_for):
        raise LastLitreError("What is the token for?", "A few words, such as: stock list")
    if not 0 < for_ms <= LONGEST_FOR_MS:
        raise LastLitreError("A token works for at most a year.", "Make a new one in time.")
    if len([t for t in tokens_of(connection, person_no) if t.works(now_ms)]) >= MOST:
        raise LastLitreError(f"There are {MOST} tokens already.", "Revoke those not needed.")
    text = PREFIX + secrets.token_urlsafe(32)
    made = connection.execute(
        tokens.insert().values(
            person_no=person_no,
            digest=digest_of(text),
            what_for=what_for.strip(),
            may_change=may_change,
            made_ms=now_ms,
            until_ms=now_ms + for_ms,
        )
    )
    (number,) = made.inserted_primary_key or (0,)
    return int(number), text


def is_purpose(text: str) -> bool:
    """Whether a text can say what a token is for."""
    return text.isprintable() and 0 < len(text.strip()) <= LONGEST_PURPOSE


def bearer_of(connection: Connection, text: str, now_ms: int) -> Bearer | None:
    """Whom this token speaks for now; None where it is unknown, over, or its person is."""
    if not text.startswith(PREFIX) or len(text) > LONGEST:
        return None
    asked = (
        select(tokens, people.c.role, people.c.customer_no)
        .join(people, people.c.person_no == tokens.c.person_no)
        .where(tokens.c.digest == digest_of(text), people.c.ended_ms.is_(None))
        .where(people.c.erased_ms.is_(None), tokens.c.revoked_ms.is_(None))
        .where(tokens.c.until_ms > now_ms)
    )
    found = connection.execute(asked).mappings().first()
    return None if found is None else as_struct(Bearer, found)


def note_used(connection: Connection, token_no: int, now_ms: int) -> None:
    """Remember that a token was used, to the minute."""
    before = func.coalesce(tokens.c.used_ms, 0)
    connection.execute(
        tokens.update()
        .where(tokens.c.token_no == token_no, before < now_ms - NOTED_EVERY_MS)
        .values(used_ms=now_ms)
    )


def tokens_of(connection: Connection, person_no: int) -> list[Token]:
    """A person's tokens, the newest first."""
    asked = select(tokens).where(tokens.c.person_no == person_no)
    found = connection.execute(asked.order_by(tokens.c.token_no.desc())).mappings()
    return [as_struct(Token, row) for row in found]


def revoke_token(connection: Connection, person_no: int, token_no: int, now_ms: int) -> bool:
    """End a token of this person; whether there was one to end."""
    ended = connection.execute(
        tokens.update()
        .where(tokens.c.token_no == token_no, tokens.c.person_no == person_no)
        .where(tokens.c.revoked_ms.is_(None))
        .values(revoked_ms=now_ms)
    )
    return bool(ended.rowcount)


def digest_of(text: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(b"token " + text.encode("utf-8", "replace")).hexdigest()
