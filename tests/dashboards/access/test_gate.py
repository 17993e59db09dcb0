"""The gate: names, origins, tokens, sizes, and who may look or change."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from dashboards.access.access import form_token
from dashboards.access.rules import host_name
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
NETWORK = {"by_address": True, "names": ("bar.lan",)}
CLEAR = {**NETWORK, "in_clear": True}


async def test_signed_in_name_stands_on_the_page(tmp_path: Path) -> None:
    """After signing in the page says who it is, and offers to sign out."""
    async with near(door(tmp_path)) as client:
        assert (await sign_in(client)).status_code == 303
        html = (await client.get("/now")).text

    assert f"Signed in as {NAME}." in html
    assert "Sign out everywhere" in html


async def test_cookie_is_out_of_reach_of_scripts_and_other_sites(tmp_path: Path) -> None:
    """HttpOnly, SameSite=Strict; Secure and its own prefix over https."""
    access = door(tmp_path, **NETWORK)
    async with near(access) as client:
        plain = (await sign_in(client)).headers.get_list("set-cookie")[0]
    async with far(access, "https://bar.lan") as client:
        secure = (await sign_in(client)).headers.get_list("set-cookie")[0]

    for part in ("HttpOnly", "SameSite=strict", "Path=/"):
        assert part in plain
        assert part in secure
    assert plain.startswith("lastlitre-session=")
    assert "Secure" not in plain
    assert secure.startswith("__Host-lastlitre-session=")
    assert "Secure" in secure


async def test_session_brought_along_is_never_taken_over(tmp_path: Path) -> None:
    """A token put into the browser beforehand gets no session: fixation."""
    access = door(tmp_path)
    async with near(access) as client:
        client.cookies.set("lastlitre-session", "chosen-by-somebody-else", domain="127.0.0.1")
        await sign_in(client)
        mine = [c.value for c in client.cookies.jar if c.name == "lastlitre-session"]
    async with near(access) as thief:
        thief.cookies.set("lastlitre-session", "chosen-by-somebody-else")

        assert mine[-1] != "chosen-by-somebody-else"
        assert (await thief.get("/now")).headers["location"].startswith("/sign-in")


async def test_signing_in_anew_ends_the_session_before(tmp_path: Path) -> None:
    """The old token is worth nothing afterwards."""
    access = door(tmp_path)
    async with near(access) as client:
        await sign_in(client)
        old = client.cookies["lastlitre-session"]
        await sign_in(client, OTHER, OTHER_PASSWORD)
        new = client.cookies["lastlitre-session"]

    assert access.who(old) == ""
    assert access.who(new) == OTHER


async def test_form_without_its_token_is_refused(tmp_path: Path) -> None:
    """Missing, wrong, or of another browser."""
    access = door(tmp_path)
    async with near(access) as other:
        foreign = form_of((await other.get("/sign-in")).text)
    async with near(access) as client:
        await client.get("/sign-in")
        for token in ({}, {"form": ""}, {"form": "0" * 64}, {"form": foreign}):
            fields = {"name": NAME, "password": PASSWORD, **token}
            answer = await client.post("/sign-in", data=fields)
            assert answer.status_code == 403
            assert "open its page again" in answer.text
        await sign_in(client)
        assert (await client.post("/sign-out", data={"form": foreign})).status_code == 403
        assert "Signed in" in (await client.get("/now")).text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1"},
        {"origin": "http://127.0.0.1:81"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {"origin": ""},
    ],
)
async def test_form_from_elsewhere_is_refused(tmp_path: Path, headers: dict[str, str]) -> None:
    """Another origin, another port, another scheme, or a browser that says it is cross-site."""
    access = door(tmp_path)
    async with near(access) as client:
        token = form_of((await client.get("/sign-in")).text)
        fields = {"form": token, "name": NAME, "password": PASSWORD}
        answer = await client.post("/sign-in", data=fields, headers=headers)

    assert answer.status_code == 403
    assert "not sent from a page" in answer.text


async def test_form_that_says_nothing_of_its_origin_is_refused(tmp_path: Path) -> None:
    """Every browser says one or the other."""
    async with near(door(tmp_path)) as client:
        token = form_of((await client.get("/sign-in")).text)
        del client.headers["origin"]
        answer = await client.post("/sign-in", data={"form": token})

    assert answer.status_code == 403


async def test_wrong_password_locks_and_says_how_long(tmp_path: Path) -> None:
    """After five tries the right one has to wait as well; then it is let in."""
    clock = Ticking()
    access = door(tmp_path, clock=clock)
    async with near(access) as client:
        for _ in range(5):
            answer = await sign_in(client, password="not the words")
            assert answer.status_code == 401
            assert "do not belong together" in answer.text
        locked = await sign_in(client)
        clock.now_s += 60
        let_in = await sign_in(client)

    assert locked.status_code == 429
    assert locked.headers["retry-after"] == "60"
    assert "Wait 60 seconds" in locked.text
    assert let_in.status_code == 303


async def test_unknown_name_is_answered_like_a_wrong_password(tmp_path: Path) -> None:
    """Nobody learns who is on the list."""
    async with near(door(tmp_path)) as client:
        unknown = await sign_in(client, name="Cy")
        wrong = await sign_in(client, password="not the words")

    assert unknown.status_code == wrong.status_code == 401
    assert "do not belong together" in unknown.text


@pytest.mark.parametrize(
    ("then", "leads_to"),
    [
        ("/now?line=bar", "/now?line=bar"),
        ("", "/"),
        ("//evil.example", "/"),
        ("https://evil.example", "/"),
        ("/\\evil.example", "/"),
        ("/now\r\nset-cookie: a=b", "/"),
        ("/sign-in", "/"),
    ],
)
async def test_nobody_is_sent_elsewhere_after_signing_in(
    tmp_path: Path, then: str, leads_to: str
) -> None:
    """Only addresses of this page are followed."""
    async with near(door(tmp_path)) as client:
        answer = await sign_in(client, then=then)

    assert answer.headers["location"] == leads_to


async def test_signing_out_everywhere_ends_the_other_browsers(tmp_path: Path) -> None:
    """And only this person's."""
    access = door(tmp_path)
    async with near(access) as phone, near(access) as tablet, near(access) as other:
        await sign_in(phone)
        await sign_in(tablet)
        await sign_in(other, OTHER, OTHER_PASSWORD)
        token = form_of((await phone.get("/now")).text)
        left = await phone.post("/sign-out", data={"form": token, "everywhere": "yes"})

        assert left.status_code == 303
        assert (await tablet.get("/now")).status_code == 303
        assert (await phone.get("/now")).status_code == 303
        assert f"Signed in as {OTHER}." in (await other.get("/now")).text


async def test_looking_needs_a_sign_in_unless_the_site_says_everyone(tmp_path: Path) -> None:
    """On the network by choice; changing never without."""
    async with far(door(tmp_path, **NETWORK)) as client:
        closed = await client.get("/now?line=bar")
        stream = await client.get("/live?line=bar")
    async with far(door(tmp_path, all_may_look=True, **NETWORK)) as client:
        opened = await client.get("/now")
        changing = await client.post("/sign-out", data={"form": "x"})

    assert closed.headers["location"] == "/sign-in?then=%2Fnow%3Fline%3Dbar"
    assert stream.status_code == 401
    assert opened.status_code == 200
    assert changing.headers["location"] == "/sign-in"


async def test_without_people_only_the_machine_itself_may_look(tmp_path: Path) -> None:
    """Whatever stands in front of it, and whatever the site file says of looking."""
    access = door(tmp_path, people=False, all_may_look=True, proxies=("127.0.0.1",), **NETWORK)
    async with far(access, "http://bar.lan", "127.0.0.1") as through_proxy:
        assert (await through_proxy.get("/now")).status_code == 303
    async with near(door(tmp_path, people=False)) as client:
        page = await client.get("/now")
        form = await client.get("/sign-in")

    assert page.status_code == 200
    assert "Sign in" not in page.text
    assert "Nobody has a password yet." in form.text
    assert "lastlitre people SITE.toml add NAME" in form.text


async def test_password_in_clear_over_the_network_is_refused(tmp_path: Path) -> None:
    """No field to type it into; a form sent all the same is not looked at."""
    access = door(tmp_path, **NETWORK)
    async with far(access) as client:
        page = await client.get("/sign-in")
        assert "password could be read on the way" in page.text
        assert 'type="password"' not in page.text
        client.cookies.set("lastlitre-form", "x" * 32)
        fields = {"form": form_token("x" * 32), "name": NAME, "password": PASSWORD}
        sent = await client.post("/sign-in", data=fields)
    async with far(door(tmp_path, **CLEAR)) as client:
        allowed = await sign_in(client)

    assert sent.status_code == 403
    assert allowed.status_code == 303


async def test_only_a_named_proxy_is_believed(tmp_path: Path) -> None:
    """https and the caller's address by its word; from anybody else the headers are nothing."""
    said = {"x-forwarded-proto": "https", "x-forwarded-for": "1.2.3.4, 10.0.0.50"}
    access = door(tmp_path, proxies=("10.0.0.5",), **NETWORK)
    async with far(access, "http://bar.lan", "10.0.0.5") as client:
        client.headers.update({**said, "origin": "https://bar.lan"})
        for _ in range(5):
            await _try(client, "__Host-lastlitre-form")
        by_proxy = access.patience.wait_s("10.0.0.50")
    async with far(access, "http://bar.lan", "10.0.0.6") as client:
        client.headers.update(said)
        page = await client.get("/sign-in")

    assert by_proxy == 60
    assert access.patience.wait_s("1.2.3.4") == 0
    assert access.patience.wait_s("10.0.0.5") == 0
    assert "password could be read on the way" in page.text


async def _try(client: httpx.AsyncClient, cookie: str) -> None:
    page = await client.get("/sign-in")
    value = page.cookies[cookie]
    fields = {"form": form_of(page.text), "name": NAME, "password": "not the words"}
    answer = await client.post("/sign-in", data=fields, headers={"cookie": f"{cookie}={value}"})
    assert answer.status_code == 401


@pytest.mark.parametrize(
    ("url", "status"),
    [
        ("http://10.0.0.7", 303),
        ("http://10.0.0.7:8420", 303),
        ("http://bar.lan", 303),
        ("http://BAR.lan.", 303),
        ("http://evil.example", 400),
        ("http://bar.lan.evil.example", 400),
        ("http://10.0.0.8", 400),
    ],
)
async def test_only_names_of_ours_are_answered(tmp_path: Path, url: str, status: int) -> None:
    """Those of the site file, and the address that the connection arrived at."""
    access = door(tmp_path, **NETWORK)
    async with far(access, "http://10.0.0.7") as client:
        host = url.removeprefix("http://")
        assert (await client.get("/now", headers={"host": host})).status_code == status


@pytest.mark.parametrize("header", ["", "a b", "a@b", "a:80:90", "[::1", "a/..", "é", "x" * 300])
def test_host_header_that_is_none_has_no_name(header: str) -> None:
    """Neither a name nor an address."""
    assert host_name(header) is None


async def test_sizes_are_bounded(tmp_path: Path) -> None:
    """Bodies, fields, addresses, methods and media types."""
    access = door(tmp_path)
    async with near(access) as client:
        token = form_of((await client.get("/sign-in")).text)

        async def post(**fields: str) -> int:
            return (await client.post("/sign-in", data={"form": token, **fields})).status_code

        assert await post(name="x" * 20_000) == 413
        assert await post(name="x" * 3_000) == 400
        assert await post(**{f"f{n}": "" for n in range(100)}) == 400
        assert await post(name="a\0b") == 400
        assert (await client.get("/now?" + "a" * 3_000)).status_code == 414
        assert (await client.put("/now")).status_code == 405
        assert (await client.post("/sign-in", json={})).status_code == 415
        files = {"name": b"x"}
        assert (await client.post("/sign-in", files=files)).status_code == 415
        twice = f"form={token}&name=a&name=b"
        kind = {"content-type": "application/x-www-form-urlencoded"}
        assert (await client.post("/sign-in", content=twice, headers=kind)).status_code == 400


async def test_people_file_open_to_others_closes_the_page(tmp_path: Path) -> None:
    """The page says how to mend it and lets nobody in."""
    access = door(tmp_path)
    assert access.people is not None
    access.people.path.chmod(0o644)
    async with near(access) as client:
        answer = await client.get("/now")

    assert answer.status_code == 503
    assert "chmod 600" in answer.text
