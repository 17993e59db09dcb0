"""Set-up over the line, on a real pseudo-terminal with a node that works on meanwhile."""

from __future__ import annotations

import random
from typing import Any

import pytest

from analytics.errors import LinkError, MeterError
from firmware_bridge.firmware.keep import SETTINGS
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.node_setup import set_up
from tests.firmware_bridge.wires.boards import Board, living

pytestmark = pytest.mark.timeout(120)


async def test_settings_are_changed_and_all_are_told(bench: Any, pair: PtyPair) -> None:
    """The node says who it is, that it is well, and what is in force; what was set outlives a
    start."""
    board = Board(bench, pair)
    async with living(board):
        facts = await set_up(SerialLine(pair.port), {"ec-range": 2, "sample-ms": 500})
    again = bench.start()

    assert list(facts.settings) == [setting[0] for setting in SETTINGS]
    assert (facts.settings["ec-range"], facts.settings["sample-ms"]) == (2, 500)
    assert facts.hello.boot == board.node.boot
    assert facts.test.failed == 0
    assert again.setting("ec-range") == 2


async def test_a_bad_line_only_takes_longer(bench: Any, pair: PtyPair) -> None:
    """Questions and answers that are lost are asked again."""
    board = Board(bench, pair)
    write, chance = pair.write, random.Random(4)

    def lossy(data: bytes) -> None:
        write(data if chance.random() > 0.5 else data[: len(data) // 2])

    pair.write = lossy  # type: ignore[method-assign]
    async with living(board):
        facts = await set_up(SerialLine(pair.port), {"node": 7}, 60.0)

    assert facts.settings["node"] == 7


@pytest.mark.parametrize(
    ("wanted", "said", "hint"),
    [
        ({"colour": 1}, "no setting 'colour'", "heartbeat-ms"),
        ({"ec-range": 9}, "ec-range=9", "0 to 3"),
    ],
)
async def test_what_cannot_be_set(
    bench: Any, pair: PtyPair, wanted: dict[str, int], said: str, hint: str
) -> None:
    """A setting or a value that there is not: named, with what there is; nothing is changed."""
    async with living(Board(bench, pair)):
        with pytest.raises(MeterError, match=said) as caught:
            await set_up(SerialLine(pair.port), wanted)

    assert hint in caught.value.hint
    assert bench.start().setting("ec-range") == 0


async def test_nobody_there(pair: PtyPair) -> None:
    """A port without a node is told after a while."""
    with pytest.raises(MeterError, match="No node answers") as caught:
        await set_up(SerialLine(pair.port), {}, 0.5)

    assert "--baud" in caught.value.hint


async def test_the_daemon_has_the_port(bench: Any, pair: PtyPair) -> None:
    """While the daemon reads the port, set-up says that another program holds it."""
    daemon = SerialLine(pair.port)
    await daemon.open()
    with pytest.raises(LinkError) as caught:
        await set_up(SerialLine(pair.port), {})
    daemon.close()

    assert "Another program" in caught.value.hint
