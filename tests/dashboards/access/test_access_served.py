"""The door over real sockets: https, slow clients, too many of them, and a real browser."""

from __future__ import annotations

import contextlib
import socket
import ssl
import time
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from analytics.errors import LinkError
from dashboards.access import patient_http
from dashboards.serving import Keys, checked_keys
from tests.dashboards.access.served import NAME, PASSWORD, door, form_of, served
from tests.dashboards.conftest import SIZES
from tests.peers import throwaway_keys

pytestmark = pytest.mark.timeout(120)
HTML = "text/html"


@pytest.fixture
def keys(tmp_path: Path) -> Keys:
    """A certificate for localhost made by openssl."""
    made = throwaway_keys(tmp_path)
    return checked_keys(str(made / "server.pem"), str(made / "server.key"))


def test_signing_in_over_https(tmp_path: Path, keys: Keys) -> None:
    """A client that trusts the certificate signs in; one that does not gets nothing."""
    context = ssl.create_default_context(cafile=str(tmp_path / "keys" / "ca.pem"))
    with served(door(tmp_path), keys) as address:
        url = address.replace("127.0.0.1", "localhost")
        with httpx.Client(base_url=url, verify=context, headers={"origin": url}) as client:
            token = form_of(client.get("/sign-in").text)
            fields = {"form": token, "name": NAME, "password": PASSWORD}
            answer = client.post("/sign-in", data=fields)
            html = client.get("/now").text
        with pytest.raises(httpx.ConnectError), httpx.Client(base_url=url) as stranger:
            stranger.get("/now")
        with pytest.raises(httpx.TransportError):
            httpx.get(url.replace("https", "http"))

    assert answer.status_code == 303
    assert "Secure" in answer.headers["set-cookie"]
    assert f"Signed in as {NAME}." in html


def test_keys_that_do_not_fit_are_refused_with_a_mend(tmp_path: Path, keys: Keys) -> None:
    """Open to others, missing, or of another certificate."""
    Path(keys.key).chmod(0o644)
    with pytest.raises(LinkError, match="others can open"):
        checked_keys(keys.cert, keys.key)
    Path(keys.key).chmod(0o600)
    with pytest.raises(LinkError, match="cannot be used"):
        checked_keys(keys.key, keys.key)
    with pytest.raises(LinkError, match="cannot be used"):
        checked_keys(keys.cert, str(tmp_path / "missing.key"))


def test_client_that_never_ends_its_request_is_let_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A head sent byte by byte does not hold a connection; others are served meanwhile."""
    monkeypatch.setattr(patient_http, "HEAD_WITHIN_S", 1.0)
    with served(door(tmp_path, people=False)) as url:
        host, port = url.removeprefix("http://").split(":")
        with socket.create_connection((host, int(port)), timeout=20) as slow:
            slow.sendall(b"GET /now HTTP/1.1\r\nHost: 127.0.0.1\r\n")
            assert httpx.get(f"{url}/now").status_code == 200
            dropped = False
            for _ in range(400):
                try:
                    slow.sendall(b"x")
                    time.sleep(0.05)
                except OSError:
                    dropped = True
                    break

    assert dropped


def test_head_that_is_far_too_long_is_refused(tmp_path: Path) -> None:
    """Not gathered in memory: the connection ends long before a megabyte is taken."""
    with served(door(tmp_path, people=False)) as url:
        host, port = url.removeprefix("http://").split(":")
        with socket.create_connection((host, int(port)), timeout=20) as line:
            line.sendall(b"GET /now HTTP/1.1\r\nHost: 127.0.0.1\r\nx: ")
            taken = 0
            with contextlib.suppress(ConnectionError):
                for _ in range(100):
                    line.sendall(b"y" * 100_000)
                    taken += 100_000
        after = httpx.get(f"{url}/now")

    assert taken < 10_000_000
    assert after.status_code == 200


def test_forwarded_headers_of_a_stranger_change_nothing(tmp_path: Path) -> None:
    """On loopback too: the server's own proxy support is off."""
    said = {"x-forwarded-proto": "https", "x-forwarded-for": "10.0.0.9"}
    with served(door(tmp_path, people=False)) as url:
        assert httpx.get(f"{url}/now", headers=said).status_code == 200


def test_open_streams_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One more than there may be is told to come back later; the others go on."""
    from dashboards import web

    monkeypatch.setattr(web, "MOST_OPEN_PAGES", 2)
    with (
        served(door(tmp_path, people=False)) as url,
        httpx.Client(base_url=url) as client,
        client.stream("GET", "/live?line=bar") as one,
        client.stream("GET", "/live") as two,
    ):
        pages = [one.iter_lines(), two.iter_lines()]
        assert [next(lines) for lines in pages] == ["retry: 2000"] * 2
        third = client.get("/live?line=bar")

    assert third.status_code == 503
    assert third.headers["retry-after"] == "30"


@pytest.mark.browser
@pytest.mark.parametrize(
    "context", [{"java_script_enabled": True}, {"java_script_enabled": False}], indirect=True
)
@pytest.mark.parametrize("size", SIZES)
def test_signing_in_and_out_in_a_browser(
    tmp_path: Path, context: BrowserContext, page: Page, size: str
) -> None:
    """With scripting and without, on a desk and on a phone; the console has no complaint."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    with served(door(tmp_path)) as url:
        page.goto(f"{url}/now?line=bar")
        expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
        page.get_by_label("Your name").fill(NAME)
        page.get_by_label("Your password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_text(f"Signed in as {NAME}.")).to_be_visible()
        assert page.url == f"{url}/now?line=bar"
        cookies = {c["name"]: c for c in context.cookies()}
        assert cookies["lastlitre-session"]["httpOnly"] is True
        assert cookies["lastlitre-session"]["sameSite"] == "Strict"
        assert page.locator("html").bounding_box()["width"] == width  # type: ignore[index]
        page.get_by_role("button", name="Sign out", exact=True).click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
        page.goto("about:blank")

    assert said == []


@pytest.mark.browser
def test_form_on_a_page_elsewhere_does_nothing(tmp_path: Path, page: Page) -> None:
    """A page of another site cannot use a sign-in that is there."""
    with served(door(tmp_path)) as url:
        page.goto(f"{url}/sign-in")
        page.get_by_label("Your name").fill(NAME)
        page.get_by_label("Your password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_text("Signed in as")).to_be_visible()
        markup = f'<form method="post" action="{url}/sign-out"><button>go</button></form>'
        page.route(
            "http://evil.example/", lambda r: r.fulfill(body=markup, content_type="text/html")
        )
        page.goto("http://evil.example/")
        page.get_by_role("button", name="go").click()
        expect(page.get_by_text("not sent from a page of this machine")).to_be_visible()
        page.goto(f"{url}/now")
        expect(page.get_by_text(f"Signed in as {NAME}.")).to_be_visible()
        page.goto("about:blank")
