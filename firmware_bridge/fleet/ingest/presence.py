"""Who speaks for a site, when it was heard, and what its clock shows."""

from __future__ import annotations

from typing import Any

from firmware_bridge.fleet.ingest.messages import Heard, Refused
from firmware_bridge.fleet.ingest.step import HEARD_EVERY_MS, Known, Step

CLOCK_AHEAD_MS = 300_000
"""A newest row so far ahead of our clock means that one of the clocks is wrong."""


def one_box(step: Step, known: Known, said: Heard) -> None:
    """Only the box that spoke first is heard; what another one says goes aside."""
    spoke: list[Any] = [*said.batches, *said.gone, *said.nows.values()]
    boxes = {str(each.box) for each in spoke if each.box}
    boxes |= {said.card.box} if said.card is not None and said.card.box else set()
    boxes |= {said.online.box} if said.online is not None and said.online.box else set()
    if not known.box and boxes:
        known.box = said.card.box if said.card is not None and said.card.box else min(boxes)
        known.claimed = True
    others = boxes - {known.box}
    if not others:
        return
    ours = {"", known.box}
    reason = f"another box ({min(others)}) speaks under the name of {known.site}"
    for batch in said.batches:
        if batch.box not in ours:
            step.aside.append(Refused(known.site, batch.topic, reason, batch.text))
    said.batches = [each for each in said.batches if each.box in ours]
    said.gone = [each for each in said.gone if each.box in ours]
    said.nows = {line: each for line, each in said.nows.items() if each.box in ours}
    if said.card is not None and said.card.box not in ours:
        said.card = None
    if said.online is not None and said.online.box not in ours:
        said.online = None
    step.doubt(known, "two-boxes", boxes=sorted({known.box, *others}))


def presence(step: Step, known: Known, said: Heard) -> None:
    """When a site was heard, who it says it is, whether it is connected, how its clock goes."""
    card = said.card if said.card is not None and said.card_text != known.card else None
    online = known.online if said.online is None else said.online.online
    due = known.heard_ms is None or step.now_ms - known.heard_ms >= HEARD_EVERY_MS
    if due or online != known.online or known.new or known.claimed:
        ahead = known.clock_ahead_ms if said.newest_ms is None else said.newest_ms - step.now_ms
        _clock(step, known, ahead)
        step.sites.append(
            {
                "no": known.site_no, "new_heard_ms": max(step.now_ms, known.heard_ms or 0),
                "new_online": online, "new_box": known.box, "new_clock_ahead_ms": ahead,
            }
        )  # fmt: skip
    if card is not None:
        step.cards.append(
            {
                "no": known.site_no, "new_card": said.card_text, "new_name": card.name,
                "new_service": card.service, "new_program": card.program,
            }
        )  # fmt: skip
    elif said.card is not None:
        said.card = None  # nothing new on it


def _clock(step: Step, known: Known, ahead: int | None) -> None:
    was = (known.clock_ahead_ms or 0) > CLOCK_AHEAD_MS
    if ahead is not None and ahead > CLOCK_AHEAD_MS and not was:
        step.doubt(known, "clock-ahead", ahead_ms=ahead)
    elif was and ahead is not None and ahead <= CLOCK_AHEAD_MS:
        step.no_doubt(known, "clock-ahead")
