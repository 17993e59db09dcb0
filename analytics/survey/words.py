"""Figures in sentences, in the reader's units."""

from __future__ import annotations

import msgspec

from analytics.quantities import ALKALINITY, HARDNESS


class Units(msgspec.Struct, frozen=True, kw_only=True):
    """Units of hardness and alkalinity in which sentences are written."""

    hardness: str = "dH"
    alkalinity: str = "dH"

    def hard(self, mmol_l: float) -> str:
        """A hardness (total, calcium, carbonate) from mmol/L."""
        return HARDNESS.shown(mmol_l, self.hardness)

    def alk(self, meq_l: float) -> str:
        """An alkalinity from meq/L."""
        return ALKALINITY.shown(meq_l, self.alkalinity)


DEGREES = Units()


class Reason(msgspec.Struct, frozen=True, kw_only=True):
    """Something that speaks for or against a family, or that asks for care; `code` stays the same
    for ever, `text` is one or two sentences."""

    code: str
    text: str


def reason(code: str, text: str) -> Reason:
    """Short for a `Reason`."""
    return Reason(code=code, text=text)


def of_hundred(share: float) -> str:
    """A chance as cases of a hundred."""
    return f"{min(max(round(100 * share), 0), 100)} of 100 cases"
