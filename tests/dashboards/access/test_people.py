"""People and their passwords: kept closed, kept hashed, and changed at once."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from analytics.errors import LastLitreError
from dashboards.access.passwords import key_of
from dashboards.access.people import People
from dashboards.access.sessions import DAY_S, IDLE_S, LONGEST_S, Sessions
from tests.dashboards.access.served import NAME, PASSWORD, Ticking


@pytest.fixture
def people(tmp_path: Path) -> People:
    """One person."""
    held = People(tmp_path / "site.people")
    held.add(NAME, PASSWORD)
    return held


def test_file_is_closed_and_holds_no_password(people: People) -> None:
    """Mode 0600; neither the password nor anything that shows two equal ones."""
    people.add("Bo", PASSWORD)
    text = people.path.read_text()

    assert stat.S_IMODE(people.path.stat().st_mode) == 0o600
    assert PASSWORD not in text
    keys = {person.key.key for person in people.all()}
    assert len(keys) == 2


def test_key_takes_sixteen_mebibytes() -> None:
    """scrypt with N = 2^14 and r = 8: 128 * N * r bytes."""
    key = key_of(PASSWORD)

    assert 128 * key.work * key.block == 16 * 1024 * 1024
    assert "***" in repr(key)


def test_name_and_password_belong_together(people: People) -> None:
    """Capitals of the name do not matter, those of the password do."""
    found = people.who("ada", PASSWORD)

    assert found is not None
    assert found.name == NAME
    assert people.who(NAME, PASSWORD.upper()) is None
    assert people.who("Bo", PASSWORD) is None


def test_password_typed_on_another_keyboard_is_the_same(people: People) -> None:
    """Composed and decomposed signs are one."""
    people.add("Zoe", "caf\u00e9 au lait noir")

    assert people.who("Zoe", "cafe\u0301 au lait noir") is not None


@pytest.mark.parametrize(
    "password", ["short", "aaaaaaaaaaaaaaa", "x" * 300, "my name is ada", "lastlitre1234"]
)
def test_weak_password_is_refused_with_a_mend(people: People, password: str) -> None:
    """Too short, too long, too simple, or the name itself."""
    with pytest.raises(LastLitreError) as caught:
        people.change(NAME, password)
    assert caught.value.hint


@pytest.mark.parametrize("name", ["", " Ada", "a" * 41, "A\nB", "Ada"])
def test_name_that_cannot_be_is_refused(people: People, name: str) -> None:
    """Empty, padded, too long, with control characters, or there already."""
    with pytest.raises(LastLitreError):
        people.add(name, "four plain brown mugs")


def test_file_open_to_others_is_not_used(people: People) -> None:
    """The mend is the command that closes it."""
    people.path.chmod(0o644)

    with pytest.raises(LastLitreError, match="others can open") as caught:
        people.all()
    assert caught.value.hint == f"Close it: chmod 600 {people.path}"


@pytest.mark.parametrize("data", [b"", b"[]", b"{}", b'{"version":1,"people":[{}]}', b"\xff\x00"])
def test_damaged_file_lets_nobody_in(people: People, data: bytes) -> None:
    """It is an error, never an empty list that would open the page to all."""
    people.path.write_bytes(data)

    with pytest.raises(LastLitreError, match="no file of people"):
        people.who(NAME, PASSWORD)


def test_change_by_another_process_holds_at_once(people: People) -> None:
    """A new password from the shell is seen by the running page."""
    running = People(people.path)
    assert running.who(NAME, PASSWORD) is not None
    people.change(NAME, "entirely new words")

    assert running.who(NAME, PASSWORD) is None
    assert running.who(NAME, "entirely new words") is not None


def sessions(people: People, clock: Ticking) -> Sessions:
    """Sessions beside the people's file."""
    return Sessions(people.path.with_suffix(".sessions"), people, clock)


def test_session_outlives_a_restart_but_its_file_is_no_key(people: People) -> None:
    """The file holds digests, closed to others."""
    clock = Ticking()
    ada = people.named(NAME)
    assert ada is not None
    token = sessions(people, clock).begin(ada)
    file = people.path.with_suffix(".sessions")

    assert sessions(people, clock).who(token) == NAME
    assert token not in file.read_text()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_session_ends_when_idle_and_after_a_month(people: People) -> None:
    """A week without a visit, or thirty days in all."""
    clock = Ticking()
    ada = people.named(NAME)
    assert ada is not None
    held = sessions(people, clock)
    idle, used = held.begin(ada), held.begin(ada)
    begun = clock.now_s
    while clock.now_s - begun < LONGEST_S - DAY_S:
        clock.now_s += DAY_S
        assert held.who(used) == NAME
    assert clock.now_s - begun > IDLE_S
    assert held.who(idle) == ""
    clock.now_s += DAY_S

    assert held.who(used) == ""


def test_new_password_ends_every_session(people: People) -> None:
    """So does taking the person off the list."""
    clock = Ticking()
    people.add("Bo", "steam and a sieve")
    held = sessions(people, clock)
    tokens = {p.name: held.begin(p) for p in people.all()}
    people.change(NAME, "entirely new words")
    people.remove("Bo")

    assert [held.who(token) for token in tokens.values()] == ["", ""]


def test_sessions_of_one_person_are_bounded(people: People) -> None:
    """The oldest gives way."""
    clock = Ticking()
    ada = people.named(NAME)
    assert ada is not None
    held = sessions(people, clock)
    tokens = []
    for _ in range(25):
        clock.now_s += 1
        tokens.append(held.begin(ada))

    assert [bool(held.who(t)) for t in tokens] == [False] * 5 + [True] * 20
