"""A time-series store that takes line protocol."""

from __future__ import annotations

from typing import Annotated

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, env_name, file_path, quantity, web_address, words
from firmware_bridge.config.wiring import SinkOptions


class LineProtocol(SinkOptions, frozen=True, kw_only=True):
    """A time-series store with the v2 write endpoint."""

    url: Annotated[
        str,
        asks(
            "Its address, without the path.",
            web_address,
            example='"http://127.0.0.1:8428"',
            live=True,
        ),
    ]
    bucket: Annotated[str, asks("Bucket or database.", words, example='"lastlitre"')] = "lastlitre"
    org: Annotated[str, asks("Organisation, where it wants one.", words, example='"cafe"')] = ""
    token_env: Annotated[
        str | None,
        asks("Environment variable with the token.", env_name, example='"LASTLITRE_TOKEN"'),
    ] = None
    token_file: Annotated[
        str | None,
        asks(
            "Or a file with the token that only its owner can read (0600).",
            file_path,
            example='"tsdb.token"',
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
    again_after_s: Annotated[
        float,
        asks(
            "Every row is sent a second time after this, since a store may lose its last seconds.",
            quantity(kinds.SPAN_S, low=60.0, high=86_400.0),
            example='"60 s"',
        ),
    ] = msgspec.field(name="again_after", default=60.0)
    timeout_s: Annotated[
        float,
        asks(
            "How long to wait for an answer.",
            quantity(kinds.SPAN_S, low=0.1, high=600.0),
            example='"10 s"',
        ),
    ] = msgspec.field(name="timeout", default=10.0)


OPTIONS = LineProtocol
