"""A code is given, used by one box, and withdrawn."""

from __future__ import annotations

import pytest
from sqlalchemy import Connection, select

from analytics.errors import LastLitreError
from firmware_bridge.fleet.identity.codes import new_code
from firmware_bridge.fleet.identity.enrolment import (
    AGAIN_FOR_MS,
    GOOD_FOR_MS,
    CodeRefused,
    OtherSite,
    active_of,
    give_code,
    mark_revoked,
    take_code,
)
from firmware_bridge.fleet.identity.words import Claim
from firmware_bridge.fleet.records.tables import codes

NOW = 1_800_000_000_000
BOX, OTHER_BOX = "b" * 43, "o" * 43


def _claim(code: str, secret: str = BOX, site: str = "harbour-steps") -> Claim:
    return Claim(code=code, site=site, secret=secret)


def test_a_code_makes_one_identity(connection: Connection) -> None:
    """The box that shows it first gets a login; neither code nor secret is kept."""
    code = give_code(connection, "harbour-steps", NOW, made_by=1)

    identity = take_code(connection, _claim(code), NOW + 1)

    assert identity.site == "harbour-steps"
    assert active_of(connection, "harbour-steps") == [identity]
    kept = str(connection.execute(select(codes)).mappings().one())
    assert BOX not in kept
    assert code not in kept
    assert code.replace("-", "") not in kept


def test_the_same_box_may_ask_again_for_a_while_and_no_other(connection: Connection) -> None:
    """A lost answer is given again to the box that used the code, and to nobody else."""
    code = give_code(connection, "harbour-steps", NOW)
    first = take_code(connection, _claim(code), NOW)

    assert take_code(connection, _claim(code), NOW + AGAIN_FOR_MS - 1) == first
    for claim, at in (
        (_claim(code, OTHER_BOX), NOW + 1),
        (_claim(code, site="elsewhere"), NOW + 1),
        (_claim(code), NOW + AGAIN_FOR_MS),
    ):
        with pytest.raises(CodeRefused):
            take_code(connection, claim, at)
    assert active_of(connection, "harbour-steps") == [first]


def test_every_code_that_does_not_work_is_told_alike(connection: Connection) -> None:
    """Run out, used, withdrawn, never given: one sentence, so that trying teaches nothing."""
    over = give_code(connection, "over", NOW, for_ms=10)
    used = give_code(connection, "used", NOW)
    take_code(connection, _claim(used, OTHER_BOX, "used"), NOW)
    withdrawn = give_code(connection, "twice", NOW)
    give_code(connection, "twice", NOW)
    told = set()
    for code, site in ((over, "over"), (used, "used"), (withdrawn, "twice"), (new_code(), "x")):
        with pytest.raises(CodeRefused) as fault:
            take_code(connection, _claim(code, site=site), NOW + 10)
        told.add((str(fault.value), fault.value.hint))

    assert len(told) == 1


def test_a_code_runs_out_after_a_day(connection: Connection) -> None:
    """It works up to its last millisecond and not after it."""
    early, late = give_code(connection, "a", NOW), give_code(connection, "b", NOW)

    take_code(connection, _claim(early, site="a"), NOW + GOOD_FOR_MS - 1)
    with pytest.raises(CodeRefused):
        take_code(connection, _claim(late, site="b"), NOW + GOOD_FOR_MS)


def test_a_code_for_another_site_stays_good(connection: Connection) -> None:
    """Who has the code but another site file is told so, and may mend the file."""
    code = give_code(connection, "harbour-steps", NOW)

    with pytest.raises(OtherSite):
        take_code(connection, _claim(code, site="harbor-steps"), NOW)
    assert take_code(connection, _claim(code), NOW).site == "harbour-steps"


def test_a_revoked_login_does_not_come_back_by_its_code(connection: Connection) -> None:
    """The box that used the code cannot ask again once its identity was revoked."""
    code = give_code(connection, "harbour-steps", NOW)
    identity = take_code(connection, _claim(code), NOW)
    mark_revoked(connection, identity.login, NOW + 1)

    with pytest.raises(CodeRefused):
        take_code(connection, _claim(code), NOW + 2)
    assert active_of(connection, "harbour-steps") == []


@pytest.mark.parametrize("site", ["", " a", "a\nb", "x" * 201, "\x1b[31m"])
def test_no_code_for_what_cannot_be_a_site(connection: Connection, site: str) -> None:
    """A name that no site file can hold is refused with a sentence."""
    with pytest.raises(LastLitreError, match="cannot be the id"):
        give_code(connection, site, NOW)
