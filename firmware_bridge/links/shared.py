"""What meters on one port have in common, made by the first that asks for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")


class Shared:
    """Of one running site: what belongs to a port, by the port's name and what it is."""

    def __init__(self) -> None:
        self._held: dict[tuple[str, type], Any] = {}

    def of(self, port: str, kind: type[T], make: Callable[[], T]) -> T:
        """The one of this kind on the port."""
        found = self._held.get((port, kind))
        if found is None:
            found = self._held[(port, kind)] = make()
        one: T = found
        return one
