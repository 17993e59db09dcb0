"""Messages of a newer program that were kept aside whole: after an upgrade they are understood."""

from __future__ import annotations

from sqlalchemy import delete, select

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.messages import NEWER, not_newer
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import aside
from firmware_bridge.receiver.words import Incoming

AT_ONCE = 100


def take_again(records: Records, keeper: Keeper, now_ms: int) -> int:
    """Take in what is understood by now; how many messages that were.

    A message that is taken and then found here again (a crash in between) is dropped as doubled.
    """
    after, taken = 0, 0
    while True:
        with records.read() as connection:
            asked = select(aside.c.aside_no, aside.c.topic, aside.c.payload).where(
                aside.c.aside_no > after, aside.c.reason.startswith(NEWER)
            )
            found = connection.execute(asked.order_by(aside.c.aside_no).limit(AT_ONCE)).all()
        if not found:
            return taken
        after = found[-1].aside_no
        messages = {row.aside_no: Incoming(row.topic, bytes(row.payload)) for row in found}
        known = {no: each for no, each in messages.items() if not_newer(each, keeper.prefix)}
        if known:
            keeper.take(list(known.values()), now_ms)
            with records.begin() as connection:
                connection.execute(delete(aside).where(records.among(aside.c.aside_no, known)))
            taken += len(known)
