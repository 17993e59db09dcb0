"""Changes, notices and messages for tests, and a mail server that keeps what it gets."""

from __future__ import annotations

import email
import email.policy
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from analytics.samples import HOUR_MS, AlarmChange
from analytics.setup import SiteSetup
from dashboards.phrases.notices import CatalogueTeller
from firmware_bridge.notify.notice import Message, Notice, Why, message_key
from tests import peers
from tests.makers import hydrogen_line

NOON = 1_715_601_600_000  # Monday 2024-05-13T12:00:00Z
SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(hydrogen_line(),))
TELLER = CatalogueTeller(SETUP)


def change(
    alarm: str = "leak",
    what: str = "raised",
    state: str = "unacknowledged",
    *,
    at_ms: int = NOON,
    priority: str = "high",
    **more: Any,
) -> AlarmChange:
    """One change of an alarm."""
    return AlarmChange(
        at_ms=at_ms, alarm=alarm, change=what, state=state, priority=priority, **more
    )


def message(*changes: AlarmChange, why: Why = Why.RAISED, escalated: bool = False) -> Message:
    """These changes as a message."""
    notices = tuple(
        Notice(key=f"harbour-steps/bar/{c.alarm}/{n}/{why}", why=why, line_id="bar", change=c)
        for n, c in enumerate(changes or (change(numbers={"litres_last_hour": 2.25}),))
    )
    return Message(
        key=message_key(notices),
        site_id="harbour-steps",
        at_ms=NOON + HOUR_MS,
        notices=notices,
        told=TELLER.tell(notices, NOON + HOUR_MS),
        escalated=escalated,
    )


class Mailbox:
    """What a mail server got. `refuse` answers in its place, once for each entry."""

    def __init__(self) -> None:
        self.mails: list[EmailMessage] = []
        self.to: list[list[str]] = []
        self.logins: list[tuple[bytes, bytes]] = []
        self.encrypted: list[bool] = []
        self.refuse: list[str] = []
        self.refuse_to: dict[str, str] = {}
        self.port = 0

    async def handle_RCPT(  # noqa: N802 - the server's own name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        """Take or refuse one address."""
        if address in self.refuse_to:
            return self.refuse_to[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        """Take or refuse a mail."""
        if self.refuse:
            return self.refuse.pop(0)
        mail = email.message_from_bytes(envelope.content, policy=email.policy.default)
        assert isinstance(mail, EmailMessage)
        self.mails.append(mail)
        self.to.append(list(envelope.rcpt_tos))
        self.encrypted.append(server.transport.get_extra_info("sslcontext") is not None)
        return "250 OK"

    def let_in(self, server: Any, session: Any, envelope: Any, way: str, given: Any) -> AuthResult:
        """Know one user."""
        assert isinstance(given, LoginPassword)
        self.logins.append((given.login, given.password))
        return AuthResult(success=given.password == b"open sesame", handled=False)


@contextmanager
def mail_server(
    *, tls: ssl.SSLContext | None = None, starttls: bool = False, login: bool = False
) -> Iterator[Mailbox]:
    """A real SMTP server on loopback."""
    box = Mailbox()
    more: dict[str, Any] = {}
    if starttls:
        more = {"tls_context": tls, "require_starttls": True}
    if login:
        more |= {
            "authenticator": box.let_in,
            "auth_required": True,
            "auth_require_tls": starttls,
        }
    controller = Controller(
        box,
        hostname="localhost",
        port=peers.free_port(),
        ssl_context=None if starttls else tls,
        **more,
    )
    controller.start()
    box.port = controller.port
    try:
        yield box
    finally:
        controller.stop()
