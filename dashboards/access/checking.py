"""Checking one password after the other: each takes 16 MiB and a while."""

from __future__ import annotations

import asyncio

from starlette.concurrency import run_in_threadpool

from dashboards.access.people import Known, Person

IN_LINE = 3
"""Tries that may wait while one password is checked."""


class Checking:
    """Whether name and password belong together, one try at a time."""

    def __init__(self, people: Known | None) -> None:
        self._people = people
        self._one = asyncio.Semaphore(1)
        self._waiting = 0

    @property
    def full(self) -> bool:
        """Whether the line is as long as it may be."""
        return self._waiting >= IN_LINE

    async def person(self, name: str, password: str) -> Person | None:
        """The person, if they belong together."""
        people = self._people
        if people is None:
            return None
        self._waiting += 1
        try:
            async with self._one:
                return await run_in_threadpool(people.who, name, password)
        finally:
            self._waiting -= 1
