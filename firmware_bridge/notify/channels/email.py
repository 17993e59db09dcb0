"""E-mail over SMTP (RFC 5321), encrypted by STARTTLS (RFC 3207) or from the first byte (RFC 8314).

The Message-ID is made from the message's key, so that a mail sent twice after a crash is one mail
to every reader that knows RFC 5322.
"""

from __future__ import annotations

import smtplib
import ssl
from email.message import EmailMessage
from email.utils import format_datetime
from typing import Annotated, Literal

import msgspec
import structlog

from analytics.errors import SinkError
from firmware_bridge.config import kinds
from firmware_bridge.config.readers import (
    asks,
    email_address,
    email_addresses,
    env_name,
    file_path,
    host,
    quantity,
    whole,
)
from firmware_bridge.config.wiring import NotifierOptions
from firmware_bridge.notify.notice import Message, Notifier
from firmware_bridge.notify.stamps import utc_of
from firmware_bridge.secrets import Secret

log = structlog.get_logger(__name__)

PORTS = {"starttls": 587, "tls": 465, "none": 25}


class Email(NotifierOptions, frozen=True, kw_only=True):
    """E-mail to whoever looks after the machine."""

    host: Annotated[str, asks("Mail server.", host, example='"mail.example.org"', live=True)]
    sender: Annotated[
        str, asks("From this address.", email_address, example='"bar@example.org"', live=True)
    ]
    to: Annotated[
        tuple[str, ...],
        asks("To these addresses.", email_addresses, example='["owner@example.org"]', live=True),
    ]
    escalate_to: Annotated[
        tuple[str, ...],
        asks(
            "And to these once nobody has answered; left out, the same.",
            email_addresses,
            example='["service@example.org"]',
        ),
    ] = ()
    security: Annotated[
        Literal["starttls", "tls", "none"],
        asks("How the line to the server is encrypted.", example='"starttls"'),
    ] = "starttls"
    port: Annotated[
        int | None,
        asks("Port; left out, 587, 465 or 25 by security.", whole(1, 65535), example="587"),
    ] = None
    ca_file: Annotated[
        str | None,
        asks(
            "Certificate authority to trust, where it is not the system's.",
            file_path,
            example='"ca.pem"',
        ),
    ] = None
    user_env: Annotated[
        str | None,
        asks("Environment variable with the user.", env_name, example='"LASTLITRE_MAIL_USER"'),
    ] = None
    password_env: Annotated[
        str | None,
        asks(
            "Environment variable with the password.", env_name, example='"LASTLITRE_MAIL_PASSWORD"'
        ),
    ] = None
    password_file: Annotated[
        str | None,
        asks(
            "Or a file with the password that only its owner can read (0600).",
            file_path,
            example='"mail.password"',
        ),
    ] = None
    timeout_s: Annotated[
        float,
        asks(
            "How long to wait for an answer.",
            quantity(kinds.SPAN_S, low=0.1, high=600.0),
            example='"20 s"',
        ),
    ] = msgspec.field(name="timeout", default=20.0)


class Account(msgspec.Struct, frozen=True, kw_only=True):
    """The same with the secrets put in."""

    host: str
    sender: str
    to: tuple[str, ...]
    escalate_to: tuple[str, ...] = ()
    security: str = "starttls"
    port: int | None = None
    ca_file: str | None = None
    user: str = ""
    password: Secret = Secret("")
    timeout_s: float = 20.0


class EmailNotifier:
    """Mails through one server, a connection for each."""

    def __init__(self, account: Account, site_id: str) -> None:
        self._account = account
        self._site_id = site_id

    def send(self, message: Message) -> None:
        """See `OpenNotifier.send`."""
        try:
            self._send(message)
        except smtplib.SMTPAuthenticationError as exc:
            hint = "Check user and password of this notifier."
            raise SinkError(f"{self._account.host} lets us not in: {exc.smtp_code}", hint,
                            retryable=False) from exc  # fmt: skip
        except smtplib.SMTPRecipientsRefused as exc:
            refused = ", ".join(f"{who} ({code})" for who, (code, _) in exc.recipients.items())
            forever = all(code >= 500 for code, _ in exc.recipients.values())
            raise SinkError(f"{self._account.host} takes no mail to {refused}",
                            "Check the addresses.", retryable=not forever) from exc  # fmt: skip
        except smtplib.SMTPNotSupportedError as exc:
            hint = 'Choose security = "tls", or "none" on a line nobody else can hear.'
            raise SinkError(f"{self._account.host}: {exc}", hint, retryable=False) from exc
        except ssl.SSLCertVerificationError as exc:
            hint = "Name its certificate authority as ca_file, if it is your own server."
            raise SinkError(f"{self._account.host} cannot be trusted: {exc.verify_message}",
                            hint, retryable=False) from exc  # fmt: skip
        except (OSError, smtplib.SMTPException) as exc:
            raise SinkError(f"{self._account.host}: {exc}", "Check the network.") from exc

    def close(self) -> None:
        """See `OpenNotifier.close`; no connection is kept."""

    def _send(self, message: Message) -> None:
        mail = self._mail(message)
        with self._connected() as server:
            if self._account.security == "starttls":
                server.starttls(context=self._trust())
            if self._account.user:
                server.login(self._account.user, self._account.password)
            refused = server.send_message(mail)
        if refused:  # the others have it: sending again would double theirs
            log.warning("email.refused", server=self._account.host, to=sorted(refused))

    def _connected(self) -> smtplib.SMTP:
        account = self._account
        port = account.port or PORTS[account.security]
        if account.security == "tls":
            return smtplib.SMTP_SSL(
                account.host, port, timeout=account.timeout_s, context=self._trust()
            )
        return smtplib.SMTP(account.host, port, timeout=account.timeout_s)

    def _trust(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=self._account.ca_file)

    def _mail(self, message: Message) -> EmailMessage:
        account = self._account
        people = account.escalate_to if message.escalated and account.escalate_to else account.to
        mail = EmailMessage()
        mail["Subject"] = " ".join(message.told.subject.split())
        mail["From"] = account.sender
        mail["To"] = ", ".join(people)
        mail["Date"] = format_datetime(utc_of(message.at_ms))
        mail["Message-ID"] = f"<{message.key}@{self._site_id}.lastlitre.invalid>"
        mail["Auto-Submitted"] = "auto-generated"  # RFC 3834: no out-of-office answers
        if message.urgent:
            mail["Importance"] = "high"
        mail.set_content(message.told.text)
        return mail


OPTIONS = Email
NOTIFIER = Notifier(name="email", options=Account, open=EmailNotifier)
