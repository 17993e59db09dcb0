"""What a survey has to say, as codes and numbers: the faces have the words."""

from __future__ import annotations

import msgspec

from analytics.medium import Caution


class Reason(Caution, frozen=True, kw_only=True):
    """Something that speaks for or against a family, or that asks for care.

    `names` are fields of tests by the blank they stand in; `parts` stand in the blank `parts`, or
    follow as sentences where the text has none.
    """

    names: dict[str, tuple[str, ...]] = msgspec.field(default_factory=dict)
    parts: tuple[Reason, ...] = ()


def reason(
    code: str,
    variant: str = "",
    numbers: dict[str, float] | None = None,
    *,
    names: dict[str, tuple[str, ...]] | None = None,
    parts: tuple[Reason, ...] = (),
    **values: float,
) -> Reason:
    """Short for a `Reason`; the names of `numbers` and `values` end in their units."""
    said = (numbers or {}) | values
    return Reason(code=code, variant=variant, values=said, names=names or {}, parts=parts)
