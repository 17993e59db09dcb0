"""What goes into the van for the stops of a round."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from enum import StrEnum

import msgspec

from analytics.fleet.due import Due, Need


class Thing(StrEnum):
    """What a visit may need."""

    CARTRIDGE = "cartridge"
    DROP_TEST_KIT = "drop-test-kit"
    SPARE_BOX = "spare-box"


class Item(msgspec.Struct, frozen=True, kw_only=True):
    """A thing to bring; `medium` and `size` say which cartridge."""

    thing: Thing
    medium: str = ""
    size: str = ""


def needed(line: Due, medium: str, size: str, *, change_chance: float = 0.05) -> tuple[Item, ...]:
    """What a visit to this line needs.

    A cartridge where the line is due, or where a silence or a doubt may hide an end (a chance of
    `change_chance` or more before the round after next; not known counts as likely). A drop-test
    kit settles a doubt, a spare box a silence.
    """
    left = line.high[min(1, len(line.high) - 1)] if line.high else line.now
    may_end = left is None or left >= change_chance
    items: list[Item] = []
    if line.need in (Need.ACT, Need.DUE) or (line.need is not Need.RIGHT and may_end):
        items.append(Item(thing=Thing.CARTRIDGE, medium=medium, size=size))
    if line.need is Need.DOUBT:
        items.append(Item(thing=Thing.DROP_TEST_KIT))
    if line.need is Need.SILENT:
        items.append(Item(thing=Thing.SPARE_BOX))
    return tuple(items)


def packed(items: Iterable[Item]) -> tuple[tuple[Item, int], ...]:
    """The van's load: how many of each, cartridges first; one drop-test kit serves all stops."""
    counted = Counter(items)
    kit = Item(thing=Thing.DROP_TEST_KIT)
    if kit in counted:
        counted[kit] = 1
    order = list(Thing)
    return tuple(
        sorted(
            counted.items(), key=lambda one: (order.index(one[0].thing), one[0].medium, one[0].size)
        )
    )
