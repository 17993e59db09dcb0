"""Tokens of programs: what they may, how long, and that they are not kept."""

from __future__ import annotations

import pytest
from sqlalchemy import Connection, select

from analytics.errors import LastLitreError
from firmware_bridge.fleet.identity.tokens import (
    LONGEST_FOR_MS,
    MOST,
    NOTED_EVERY_MS,
    bearer_of,
    make_token,
    note_used,
    revoke_token,
    tokens_of,
)
from firmware_bridge.fleet.records.tables import people, tokens

NOW, DAY = 1_800_000_000_000, 86_400_000


def test_a_token_speaks_for_its_person_until_its_time_is_over(connection: Connection) -> None:
    """It is known by its text alone, and only until its last millisecond."""
    number, text = make_token(connection, 1, "stock list", NOW, for_ms=DAY, may_change=True)

    bearer = bearer_of(connection, text, NOW + DAY - 1)
    assert bearer is not None
    assert (bearer.token_no, bearer.person_no, bearer.role) == (number, 1, "owner")
    assert bearer.may_change
    assert bearer_of(connection, text, NOW + DAY) is None
    for wrong in ("", "llt_", text[:-1], text + "x", text.upper(), "llt_" + "é" * 43, "x" * 5000):
        assert bearer_of(connection, wrong, NOW) is None
    assert text not in str(connection.execute(select(tokens)).mappings().all())


def test_a_token_follows_its_person(connection: Connection) -> None:
    """Another role holds at once; a person who ended or was erased has no tokens left."""
    _, text = make_token(connection, 1, "list", NOW, for_ms=DAY)

    connection.execute(people.update().values(role="technician"))
    bearer = bearer_of(connection, text, NOW)
    assert bearer is not None
    assert bearer.role == "technician"
    assert not bearer.may_change
    for change in ({"ended_ms": NOW}, {"ended_ms": None, "erased_ms": NOW}):
        connection.execute(people.update().values(**change))
        assert bearer_of(connection, text, NOW) is None


def test_revoking_holds_at_once_and_only_for_ones_own(connection: Connection) -> None:
    """Nobody ends another's token by its number."""
    number, text = make_token(connection, 1, "list", NOW, for_ms=DAY)

    assert not revoke_token(connection, 2, number, NOW)
    assert bearer_of(connection, text, NOW) is not None
    assert revoke_token(connection, 1, number, NOW)
    assert bearer_of(connection, text, NOW) is None
    assert not revoke_token(connection, 1, number, NOW)


def test_last_use_is_noted_to_the_minute(connection: Connection) -> None:
    """A token that is used much does not write much."""
    number, _ = make_token(connection, 1, "list", NOW, for_ms=DAY)
    for at in (NOW, NOW + 5, NOW + NOTED_EVERY_MS):
        note_used(connection, number, at)
    assert tokens_of(connection, 1)[0].used_ms == NOW

    note_used(connection, number, NOW + NOTED_EVERY_MS + 1)
    assert tokens_of(connection, 1)[0].used_ms == NOW + NOTED_EVERY_MS + 1


def test_a_token_has_a_purpose_an_end_and_company(connection: Connection) -> None:
    """No purpose, no end, too long an end, too many: refused with a sentence."""
    for what_for, for_ms in (("", DAY), ("a\nb", DAY), ("x" * 81, DAY), ("a", 0)):
        with pytest.raises(LastLitreError):
            make_token(connection, 1, what_for, NOW, for_ms=for_ms)
    with pytest.raises(LastLitreError, match="at most a year"):
        make_token(connection, 1, "a", NOW, for_ms=LONGEST_FOR_MS + 1)
    for _ in range(MOST):
        make_token(connection, 1, "a", NOW, for_ms=DAY)
    with pytest.raises(LastLitreError, match="tokens already"):
        make_token(connection, 1, "a", NOW, for_ms=DAY)
    make_token(connection, 1, "a", NOW + DAY, for_ms=DAY)
