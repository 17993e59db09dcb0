"""What a check value is: a published or computed number, its source, and how we get ours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """How the expected number is known."""

    PUBLISHED = "published"
    COMPUTED = "computed"  # with the engine or formula that `source` names
    COMMON = "common practice, no source"
    MEMORY = "from memory"


@dataclass(frozen=True)
class Check:
    """One number: ours must be within `tolerance` of `expected`.

    `relative` tolerances are shares of the expected value. `group` joins rows of one table.
    """

    group: str
    what: str
    expected: float
    ours: Callable[[], float]
    tolerance: float
    source: str
    kind: Kind
    relative: bool = False

    @property
    def allowed(self) -> float:
        """Tolerance in the unit of the value."""
        return abs(self.expected) * self.tolerance if self.relative else self.tolerance

    def deviation(self) -> float:
        """Ours less expected, in the unit of the value."""
        return float(self.ours()) - self.expected

    def used(self) -> float:
        """Share of the tolerance that is used up; above 1 the check fails."""
        return abs(self.deviation()) / self.allowed
