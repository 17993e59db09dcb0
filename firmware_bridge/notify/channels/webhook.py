"""A webhook: the message as JSON by HTTP POST, signed.

Headers are those of the Standard Webhooks specification 1.0 (from memory): `webhook-id` is the
message's key and the same in every try, `webhook-timestamp` seconds of UTC, `webhook-signature` is
"v1," and the base64 of HMAC-SHA256 over "<id>.<timestamp>.<body>" with the shared secret.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import http.client
import ssl
import urllib.error
import urllib.request
from typing import Annotated, Any, NoReturn

import msgspec

from analytics.errors import SinkError
from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, env_name, file_path, quantity, web_address
from firmware_bridge.config.wiring import NotifierOptions
from firmware_bridge.notify.notice import Message, Notifier, as_json
from firmware_bridge.secrets import Secret

BUSY = frozenset((408, 425, 429))
"""Client errors that pass by themselves."""


class Webhook(NotifierOptions, frozen=True, kw_only=True):
    """A program elsewhere that takes JSON by HTTP."""

    url: Annotated[
        str,
        asks("Where to post.", web_address, example='"https://example.org/alarms"', live=True),
    ]
    secret_env: Annotated[
        str | None,
        asks(
            "Environment variable with the secret that signs.",
            env_name,
            example='"LASTLITRE_WEBHOOK_SECRET"',
        ),
    ] = None
    secret_file: Annotated[
        str | None,
        asks(
            "Or a file with it that only its owner can read (0600).",
            file_path,
            example='"webhook.secret"',
        ),
    ] = None
    ca_file: Annotated[
        str | None,
        asks(
            "Certificate authority to trust, where it is not the system's.",
            file_path,
            example='"ca.pem"',
        ),
    ] = None
    timeout_s: Annotated[
        float,
        asks(
            "How long to wait for an answer.",
            quantity(kinds.SPAN_S, low=0.1, high=600.0),
            example='"10 s"',
        ),
    ] = msgspec.field(name="timeout", default=10.0)


class Target(msgspec.Struct, frozen=True, kw_only=True):
    """The same with the secret put in."""

    url: str
    secret: Secret = Secret("")
    ca_file: str | None = None
    timeout_s: float = 10.0


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A signed message goes where the site file says and nowhere else."""

    def redirect_request(self, *_: Any) -> None:
        """Never."""
        return


class WebhookNotifier:
    """Posts to one address."""

    def __init__(self, target: Target, site_id: str) -> None:
        self._target = target

    def send(self, message: Message) -> None:
        """See `OpenNotifier.send`."""
        body = as_json(message)
        request = urllib.request.Request(
            self._target.url, data=body, headers=self._headers(message, body), method="POST"
        )
        try:
            with self._opener().open(request, timeout=self._target.timeout_s) as answer:
                answer.read(1024)
        except urllib.error.HTTPError as exc:
            with exc:
                self._refused(exc)
        except (OSError, http.client.HTTPException) as exc:
            reason = getattr(exc, "reason", exc)
            hint = "Check address and network."
            trusted = not isinstance(reason, ssl.SSLCertVerificationError)
            raise SinkError(f"{self._target.url}: {reason}", hint, retryable=trusted) from exc

    def close(self) -> None:
        """See `OpenNotifier.close`; no connection is kept."""

    def _headers(self, message: Message, body: bytes) -> dict[str, str]:
        seconds = str(message.at_ms // 1000)
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "lastlitre",
            "webhook-id": message.key,
            "webhook-timestamp": seconds,
        }
        if self._target.secret:
            headers["webhook-signature"] = signature(
                self._target.secret, message.key, seconds, body
            )
        return headers

    def _opener(self) -> urllib.request.OpenerDirector:
        context = ssl.create_default_context(cafile=self._target.ca_file)
        return urllib.request.build_opener(
            _NoRedirect(), urllib.request.HTTPSHandler(context=context)
        )

    def _refused(self, answer: urllib.error.HTTPError) -> NoReturn:
        passes = answer.code >= 500 or answer.code in BUSY
        hint = "See what its own log says." if passes else "Check address and secret."
        raise SinkError(
            f"{self._target.url} answers {answer.code}", hint, retryable=passes
        ) from answer


def signature(secret: str, key: str, seconds: str, body: bytes) -> str:
    """What proves that a message comes from who holds the secret."""
    signed = f"{key}.{seconds}.".encode() + body
    digest = hmac.new(secret.encode(), signed, hashlib.sha256).digest()
    return f"v1,{base64.b64encode(digest).decode()}"


OPTIONS = Webhook
NOTIFIER = Notifier(name="webhook", options=Target, open=WebhookNotifier)
