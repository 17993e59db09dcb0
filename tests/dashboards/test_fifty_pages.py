"""Fifty pages open at once."""

from __future__ import annotations

import asyncio

import httpx
import pytest

from tests.dashboards.conftest import served
from tests.dashboards.specimens import FixedSource, line, site

pytestmark = pytest.mark.timeout(120)

PAGES, MESSAGES = 50, 6


def test_fifty_open_pages_are_written_once_a_beat() -> None:
    """All pages of a kind get the same bytes; the site is read once a beat, not once a page."""
    source = FixedSource(site(line()))

    async def listen(client: httpx.AsyncClient, url: str) -> list[str]:
        async with client.stream("GET", url) as answer:
            found = []
            async for row in answer.aiter_lines():
                found += [row] if row.startswith("data:") else []
                if len(found) == MESSAGES:
                    break
            return found

    async def all_of_them(url: str) -> list[list[str]]:
        limits = httpx.Limits(max_connections=PAGES)
        async with httpx.AsyncClient(limits=limits, timeout=20.0) as client:
            return await asyncio.gather(*(listen(client, url) for _ in range(PAGES)))

    with served(source, 0.1) as address:
        heard = asyncio.run(all_of_them(address.replace("/now", "/live?line=bar")))

    assert [len(found) for found in heard] == [MESSAGES] * PAGES
    assert len({row for found in heard for row in found}) == 1
    assert source.asked < PAGES + 10 * MESSAGES
