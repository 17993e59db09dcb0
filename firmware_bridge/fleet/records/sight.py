"""What a person may see of the sites: a condition that every question about sites carries."""

from __future__ import annotations

import msgspec
from sqlalchemy import ColumnElement, false, true
from sqlalchemy import Connection as Connection  # for those who may not import SQLAlchemy

from firmware_bridge.fleet.records.tables import sites


class Sight(msgspec.Struct, frozen=True, kw_only=True):
    """Whose sites are seen: all of them, or those of one customer. As made here: none."""

    everything: bool = False
    customer_no: int | None = None

    def covers(self) -> ColumnElement[bool]:
        """The condition on `sites`."""
        if self.everything:
            return true()
        return false() if self.customer_no is None else sites.c.customer_no == self.customer_no


ALL = Sight(everything=True)
