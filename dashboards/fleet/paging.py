"""Long lists in pages that can be bookmarked."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

import msgspec


class Pages(msgspec.Struct, frozen=True, kw_only=True):
    """Which page of how many; `first` and `last` cut it out of the whole. Links are "" where
    there is no such page."""

    number: int
    count: int
    whole: int
    first: int
    last: int
    before: str
    after: str


def pages_of(query: Mapping[str, str], path: str, whole: int, size: int) -> Pages:
    """The page that the query asks for; what cannot be is the first, what is too far the last."""
    count = max(1, -(-whole // size))
    asked = query.get("page", "")
    sound = asked.isascii() and asked.isdecimal() and len(asked) < 9
    number = min(int(asked), count) if sound else 1
    number = max(number, 1)

    def link(to: int) -> str:
        return f"{path}?{urlencode(dict(query) | {'page': str(to)})}"

    return Pages(
        number=number,
        count=count,
        whole=whole,
        first=(number - 1) * size,
        last=min(number * size, whole),
        before=link(number - 1) if number > 1 else "",
        after=link(number + 1) if number < count else "",
    )
