"""The webhook against a real HTTP server: signed JSON, and what each answer means."""

from __future__ import annotations

import base64
import hashlib
import hmac
from typing import Any

import msgspec
import pytest

from analytics.errors import SinkError
from firmware_bridge.notify.channels.webhook import NOTIFIER, Target, WebhookNotifier
from firmware_bridge.notify.notice import MessageJson
from firmware_bridge.secrets import Secret
from tests import peers
from tests.firmware_bridge.notify.told import NOON, change, message


def notifier(url: str, **more: Any) -> WebhookNotifier:
    opened = NOTIFIER.open(Target(url=url, timeout_s=10.0, **more), "harbour-steps")
    assert isinstance(opened, WebhookNotifier)
    return opened


def test_message_arrives_as_json_with_words_and_numbers() -> None:
    """A machine can read it, and a person what stands in it."""
    told = message(change(numbers={"litres_last_hour": 2.25}), change("data-gap", priority="low"))
    with peers.front() as far:
        notifier(far.url).send(told)
        body = msgspec.json.decode("\n".join(far.lines).encode(), type=MessageJson)

    leak, gap = body.notices
    assert (body.site, body.key, body.v) == ("harbour-steps", told.key, 1)
    assert (leak.alarm, leak.priority, leak.line, leak.at_ms) == ("leak", "high", "bar", NOON)
    assert leak.numbers == {"litres_last_hour": 2.25}
    assert leak.words["title"] == "Water runs while the place is shut."
    assert gap.words["do"].startswith("Look at the power")


def test_signature_proves_who_sent_it() -> None:
    """HMAC-SHA256 over id, timestamp and body, as the receiver can work it out."""
    told = message()
    with peers.front() as far:
        notifier(far.url, secret=Secret("shared")).send(told)
        (headers,), body = far.headers, "\n".join(far.lines)

    signed = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.{body}"
    digest = hmac.new(b"shared", signed.encode(), hashlib.sha256).digest()
    assert headers["webhook-signature"] == f"v1,{base64.b64encode(digest).decode()}"
    assert headers["webhook-id"] == told.key
    assert headers["content-type"] == "application/json"


def test_without_a_secret_nothing_is_signed() -> None:
    """An empty key would prove nothing."""
    with peers.front() as far:
        notifier(far.url).send(message())

        assert "webhook-signature" not in far.headers[0]


@pytest.mark.parametrize(
    ("status", "passes"),
    [(500, True), (503, True), (429, True), (408, True), (400, False), (401, False), (404, False)],
)
def test_answers_that_pass_and_those_a_person_must_mend(status: int, passes: bool) -> None:
    """Servers' troubles and haste pass; a refusal does not."""
    with peers.front() as far:
        far.judge = lambda _: (status, {}, "no")
        with pytest.raises(SinkError, match=str(status)) as fault:
            notifier(far.url).send(message())

    assert fault.value.retryable is passes


def test_redirect_is_not_followed() -> None:
    """A signed message goes to nobody else."""
    with peers.front() as elsewhere, peers.front() as far:
        far.judge = lambda _: (307, {"Location": elsewhere.url}, "")
        with pytest.raises(SinkError, match="307"):
            notifier(far.url).send(message())

        assert elsewhere.seen == 0


def test_nobody_there_is_tried_again() -> None:
    """A refused connection passes by itself."""
    with pytest.raises(SinkError) as fault:
        notifier(f"http://127.0.0.1:{peers.free_port()}/").send(message())

    assert fault.value.retryable
