"""Who speaks for a site, when it was heard, and what its clock shows."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import msgspec
from sqlalchemy import select

from firmware_bridge.fleet.ingest.messages import Heard, Refused
from firmware_bridge.fleet.ingest.step import HEARD_EVERY_MS, Known, Step
from firmware_bridge.fleet.records.tables import sites
from firmware_bridge.forward.payloads import Card

CLOCK_AHEAD_MS = 300_000
"""A newest row so far ahead of our clock means that one of the clocks is wrong."""

_card = msgspec.json.Decoder(Card)


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
    online = known.online if said.online is None else said.online.online
    due = known.heard_ms is None or step.now_ms - known.heard_ms >= HEARD_EVERY_MS
    if due or online != known.online or known.new or known.claimed:
        ahead = known.clock_ahead_ms if said.newest_ms is None else said.newest_ms - step.now_ms
        _clock(step, known, ahead)
        step.sites.append(
            {
                "no": known.site_no, "heard_ms": max(step.now_ms, known.heard_ms or 0),
                "online": online, "box": known.box, "clock_ahead_ms": ahead,
            }
        )  # fmt: skip
    if said.card is not None:
        card = said.card
        step.cards.append(
            {
                "no": known.site_no, "card": said.card_text, "name": card.name,
                "service": card.service, "program": card.program,
            }
        )  # fmt: skip


def same_cards(step: Step, heard: dict[str, Heard]) -> None:
    """Pass over cards that are kept already, word for word: brokers repeat them."""
    told = {site: each for site, each in heard.items() if each.card is not None}
    if not told:
        return
    where = step.records.among_texts(sites.c.site, told)
    for site, text in step.connection.execute(select(sites.c.site, sites.c.card).where(where)):
        if told[site].card_text == text:
            told[site].card = None


def recall_cards(step: Step, told: Sequence[tuple[Known, Heard]]) -> None:
    """Sites that are new to this worker are heard with the card they showed before."""
    without = {known.site_no: heard for known, heard in told if heard.card is None}
    if not without:
        return
    where = step.records.among(sites.c.site_no, without)
    for site_no, text in step.connection.execute(
        select(sites.c.site_no, sites.c.card).where(where)
    ):
        with suppress(msgspec.MsgspecError):  # none was shown yet
            without[site_no].card = _card.decode(text)


def _clock(step: Step, known: Known, ahead: int | None) -> None:
    was = (known.clock_ahead_ms or 0) > CLOCK_AHEAD_MS
    if ahead is not None and ahead > CLOCK_AHEAD_MS and not was:
        step.doubt(known, "clock-ahead", ahead_ms=ahead)
    elif was and ahead is not None and ahead <= CLOCK_AHEAD_MS:
        step.no_doubt(known, "clock-ahead")
