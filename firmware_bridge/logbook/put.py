"""Writing into the logbook from a command: through the running daemon, else into the file."""

from __future__ import annotations

from pathlib import Path

from analytics.errors import ActRefused, StoreBusy
from firmware_bridge.clock import SystemClock
from firmware_bridge.config import Site
from firmware_bridge.logbook.acts import Desk, undone, written
from firmware_bridge.logbook.hatch import Answer, Asked, ask, hatch_of
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store


def put(site: Site, asked: Asked) -> Answer:
    """The entry that this became, or what is wrong with it. Raises StoreError, LastLitreError."""
    for _ in range(2):
        answer = ask(hatch_of(site), asked)
        if answer is not None:
            return answer
        try:
            return put_alone(site, asked)
        except StoreBusy:
            continue  # a daemon began meanwhile
    return put_alone(site, asked)


def put_alone(site: Site, asked: Asked) -> Answer:
    """The same, where no daemon runs. Raises StoreBusy where one does."""
    path = Path(site.wiring.store_path)
    with Store.open(path, site_id=site.setup.site_id, keeping=site.wiring.keeping) as store:
        reader = store.reader()
        desk = Desk(site=site.setup, reader=reader, now_ms=SystemClock().now_ms())
        try:
            if asked.act is not None:
                events = written(desk, asked.act, asked.who)
            else:
                events = undone(desk, asked.undo, asked.who, asked.reason)
        except ActRefused as refused:
            return Answer(faults=refused.faults)
        store.submit(Batch(events=events)).result()
        entry = reader.entry(events[-1].event_id if asked.act else events[0].event_id)
        return Answer(number=entry.seq if entry else 0, event_id=events[-1].event_id)
