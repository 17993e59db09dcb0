"""E-mail through a real SMTP server: what arrives, encrypted how, and what goes wrong."""

from __future__ import annotations

import ssl
from pathlib import Path

import pytest

from analytics.errors import SinkError
from firmware_bridge.notify.channels.email import NOTIFIER, Account, EmailNotifier
from firmware_bridge.notify.notice import Why
from firmware_bridge.secrets import Secret
from tests import peers
from tests.firmware_bridge.notify.told import change, mail_server, message


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An authority and a certificate for localhost."""
    return peers.throwaway_keys(tmp_path_factory.mktemp("mail"))


def server_side(keys: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(keys / "server.pem", keys / "server.key")
    return context


def notifier(port: int, **more: object) -> EmailNotifier:
    settings: dict[str, object] = {
        "host": "localhost",
        "port": port,
        "security": "none",
        "sender": "bar@example.org",
        "to": ("owner@example.org", "barista@example.org"),
        "timeout_s": 10.0,
    }
    account = Account(**(settings | more))  # type: ignore[arg-type]
    opened = NOTIFIER.open(account, "harbour-steps")
    assert isinstance(opened, EmailNotifier)
    return opened


def test_a_mail_says_what_it_is_and_what_to_do() -> None:
    """Subject, text, both addresses, and marks that it came from a machine."""
    with mail_server() as box:
        notifier(box.port).send(message())
        (mail,) = box.mails

    assert box.to == [["owner@example.org", "barista@example.org"]]
    assert mail["Subject"] == "Harbour Steps: Water runs while the place is shut."
    text = mail.get_content()
    assert "2.2\u202fL in the last hour." in text
    assert "Shut the valve before the cartridge" in text
    assert "within an hour" in text
    assert (mail["Auto-Submitted"], mail["Importance"]) == ("auto-generated", "high")


def test_a_mail_sent_twice_is_one_mail() -> None:
    """The same message has the same Message-ID in every try, another one has another."""
    with mail_server() as box:
        for sent in (message(), message(), message(change("data-gap", priority="low"))):
            notifier(box.port).send(sent)
        ids = [mail["Message-ID"] for mail in box.mails]

    assert ids[0] == ids[1] != ids[2]


def test_starttls_with_login(keys: Path) -> None:
    """Nothing is said in clear: the password goes over after the line is encrypted."""
    with mail_server(tls=server_side(keys), starttls=True, login=True) as box:
        notifier(
            box.port,
            security="starttls",
            ca_file=str(keys / "ca.pem"),
            user="bar",
            password=Secret("open sesame"),
        ).send(message())

    assert box.encrypted == [True]
    assert box.logins == [(b"bar", b"open sesame")]


def test_tls_from_the_first_byte(keys: Path) -> None:
    """An own authority is trusted when it is named, and only then."""
    with mail_server(tls=server_side(keys)) as box:
        trusting = notifier(box.port, security="tls", ca_file=str(keys / "ca.pem"))
        trusting.send(message())
        with pytest.raises(SinkError, match="cannot be trusted") as fault:
            notifier(box.port, security="tls").send(message())

    assert box.encrypted == [True]
    assert not fault.value.retryable
    assert "ca_file" in fault.value.hint


def test_wrong_password_is_for_a_person_to_mend(keys: Path) -> None:
    """It is not tried again by itself, and the password stands in no message."""
    with mail_server(tls=server_side(keys), starttls=True, login=True) as box:
        wrong = notifier(
            box.port,
            security="starttls",
            ca_file=str(keys / "ca.pem"),
            user="bar",
            password=Secret("guessed wrong"),
        )
        with pytest.raises(SinkError, match="lets us not in") as fault:
            wrong.send(message())

    assert not fault.value.retryable
    assert "guessed" not in str(fault.value) + fault.value.hint
    assert box.mails == []


def test_server_that_has_no_starttls_gets_nothing() -> None:
    """Rather no mail than one in clear."""
    with mail_server() as box, pytest.raises(SinkError) as fault:
        notifier(box.port, security="starttls").send(message())

    assert not fault.value.retryable
    assert box.mails == []


def test_nobody_there_and_busy_server_are_tried_again() -> None:
    """A refused connection and a 451 pass by themselves."""
    with pytest.raises(SinkError) as away:
        notifier(peers.free_port()).send(message())
    with mail_server() as box:
        box.refuse = ["451 greylisted, come back later"]
        with pytest.raises(SinkError) as busy:
            notifier(box.port).send(message())
        notifier(box.port).send(message())

    assert away.value.retryable
    assert busy.value.retryable
    assert len(box.mails) == 1


def test_address_that_does_not_exist_is_named() -> None:
    """All refused: a person has to mend it."""
    with mail_server() as box:
        box.refuse_to = {
            "owner@example.org": "550 no such user",
            "barista@example.org": "550 no such user",
        }
        with pytest.raises(SinkError, match=r"owner@example\.org") as fault:
            notifier(box.port).send(message())

    assert not fault.value.retryable


def test_one_bad_address_does_not_keep_the_mail_from_the_others() -> None:
    """Who can be reached is told once, and the mail counts as gone out."""
    with mail_server() as box:
        box.refuse_to = {"owner@example.org": "550 no such user"}
        notifier(box.port).send(message())

    assert box.to == [["barista@example.org"]]


def test_escalated_mail_goes_to_the_next_ones() -> None:
    """Whoever is named for it; else the same."""
    with mail_server() as box:
        told = message(why=Why.ESCALATED, escalated=True)
        notifier(box.port, escalate_to=("service@example.org",)).send(told)
        notifier(box.port).send(told)

    assert box.to == [["service@example.org"], ["owner@example.org", "barista@example.org"]]
    assert "Nobody has answered" in box.mails[0]["Subject"]
