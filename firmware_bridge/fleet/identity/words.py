"""What a box and a fleet say to each other when the box joins; the site needs no more of it."""

from __future__ import annotations

from typing import Annotated

import msgspec

JOIN_PATH = "/api/v1/join"
LONGEST_SITE = 200
SIGNS = r"^[^\u0000-\u001f\u007f]*$"
"""No control characters."""


class Claim(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a box says to join: its code, its id, and the secret it made for itself.

    The secret is at least 256 bits by chance, as URL-safe base64.
    """

    code: Annotated[str, msgspec.Meta(min_length=1, max_length=64)]
    site: Annotated[str, msgspec.Meta(min_length=1, max_length=LONGEST_SITE, pattern=SIGNS)]
    secret: Annotated[str, msgspec.Meta(pattern="^[A-Za-z0-9_-]{43,86}$")]


class Joined(msgspec.Struct, frozen=True, kw_only=True):
    """Where the site's rows go from now on, and as whom.

    `ca` is the authority (PEM) that vouches for the broker; empty: the machine's own do.
    """

    site: str
    login: str
    topic_prefix: str
    host: str
    port: Annotated[int, msgspec.Meta(ge=1, le=65535)]
    tls: bool
    ca: str = ""
