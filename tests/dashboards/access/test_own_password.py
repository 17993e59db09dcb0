"""A person's own password on a page; failures that outlive a restart; what programs are told."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from dashboards.access.access import Access
from tests.dashboards.access.served import (
    NAME,
    OTHER,
    OTHER_PASSWORD,
    PASSWORD,
    Ticking,
    door,
    far,
    form_of,
    near,
    sign_in,
)

pytestmark = pytest.mark.timeout(120)  # scrypt takes its time, by design
NEW = "a kettle of soft rain"
HTML = {"accept": "text/html"}


async def change(client: httpx.AsyncClient, now: str, new: str, again: str) -> httpx.Response:
    """Open the form and send it."""
    page = await client.get("/password")
    fields = {"form": form_of(page.text), "password": now, "new": new, "again": again}
    return await client.post("/password", data=fields)


async def test_a_new_password_holds_at_once_and_ends_other_sessions(tmp_path: Path) -> None:
    """This browser stays signed in, another is out, the old password no longer does."""
    access = door(tmp_path)
    async with near(access) as here, near(access) as there, near(access) as third:
        await sign_in(here)
        await sign_in(there)
        answer = await change(here, PASSWORD, NEW, NEW)
        shown = await here.get(answer.headers["location"])
        out = await there.get("/password")
        old = await sign_in(third)
        new = await sign_in(third, password=NEW)

    assert answer.status_code == 303
    assert "It is changed." in shown.text
    assert f"Signed in as {NAME}." in shown.text
    assert out.headers["location"] == "/sign-in?then=%2Fpassword"
    assert (old.status_code, new.status_code) == (401, 303)
    assert "set-cookie" in new.headers


@pytest.mark.parametrize(
    ("now", "new", "again", "status", "said"),
    [
        ("not the one I have", NEW, NEW, 401, "not the password you have"),
        (OTHER_PASSWORD, NEW, NEW, 401, "not the password you have"),
        (PASSWORD, NEW, NEW + "s", 422, "The new ones differ"),
        (PASSWORD, "short", "short", 422, "too short or too simple"),
        (PASSWORD, f"{NAME} {NAME} {NAME} and tea", f"{NAME} {NAME} {NAME} and tea", 422, "name"),
    ],
)
async def test_what_changes_no_password(
    tmp_path: Path, now: str, new: str, again: str, status: int, said: str
) -> None:
    """Each is told in words, and the old password still holds."""
    access = door(tmp_path)
    async with near(access) as client, near(access) as after:
        await sign_in(client)
        answer = await change(client, now, new, again)
        still = await sign_in(after)

    assert answer.status_code == status
    assert said in answer.text
    assert still.status_code == 303


async def test_nobody_guesses_a_password_by_changing_it(tmp_path: Path) -> None:
    """Wrong ones count as failed tries of the address, and then it waits."""
    access = door(tmp_path)
    async with near(access) as client:
        await sign_in(client)
        answers = [await change(client, f"no such word {n}", NEW, NEW) for n in range(6)]

    assert [answer.status_code for answer in answers] == [401] * 5 + [429]
    assert "retry-after" in answers[-1].headers


async def test_who_is_not_signed_in_changes_nothing(tmp_path: Path) -> None:
    """Neither by the page nor by a form from elsewhere, whoever may look."""
    access = door(tmp_path, all_may_look=True)
    async with near(access) as client:
        page = await client.get("/password")
        form = form_of((await client.get("/sign-in")).text)
        fields = {"form": form, "password": PASSWORD, "new": NEW, "again": NEW}
        sent = await client.post("/password", data=fields)

    assert page.headers["location"].startswith("/sign-in")
    assert sent.headers["location"].startswith("/sign-in")
    assert access.people is not None
    assert access.people.who(NAME, PASSWORD) is not None


def again(access: Access, clock: Ticking, away_s: float) -> Access:
    """The daemon starts again after so long: its own clock begins anew, the wall's goes on."""
    wall = Ticking(clock.now_s + away_s)
    return Access(access.rules, access.people, wall_s=wall, clock=Ticking(3.0))


async def test_a_restart_lets_nobody_try_again_sooner(tmp_path: Path) -> None:
    """Five failures, then the daemon starts anew: the address waits on, another does not."""
    clock = Ticking()
    access = door(tmp_path, clock=clock, in_clear=True, by_address=True)
    async with far(access) as client:
        for n in range(5):
            await sign_in(client, password=f"no such word {n}")
    early, late = again(access, clock, 10.0), again(access, clock, 61.0)
    async with far(early) as client, far(early, address="10.0.0.8") as other:
        waits = await sign_in(client)
        passes = await sign_in(other, OTHER, OTHER_PASSWORD)
    async with far(late) as client:
        later = await sign_in(client)

    assert (waits.status_code, passes.status_code, later.status_code) == (429, 303, 303)
    assert 45 <= int(waits.headers["retry-after"]) <= 50


def test_a_damaged_file_of_failures_is_none(tmp_path: Path) -> None:
    """It is closed to others; damaged, the count begins anew."""
    clock = Ticking()
    access = door(tmp_path, clock=clock)
    for _ in range(5):
        access.patience.trying("10.0.0.9")
    access.patience.keep()
    (kept,) = tmp_path.glob("*.patience")
    assert again(access, clock, 1.0).patience.wait_s("10.0.0.9") == pytest.approx(59.0)
    kept.write_bytes(b"no failures")

    assert kept.stat().st_mode & 0o077 == 0
    assert again(access, clock, 1.0).patience.wait_s("10.0.0.9") == 0


async def test_a_collector_gets_a_sentence_and_no_form(tmp_path: Path) -> None:
    """Figures asked for from elsewhere, while looking needs a sign-in: a plain 401 that says what
    to do."""
    access = door(tmp_path, in_clear=True, by_address=True)
    async with far(access) as client:
        answer = await client.get("/metrics")

    assert answer.status_code == 401
    assert answer.headers["content-type"].startswith("text/plain")
    assert 'view = "everyone"' in answer.text
