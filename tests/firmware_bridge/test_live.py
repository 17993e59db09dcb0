"""Latest values of a line and their way to listeners."""

from __future__ import annotations

import asyncio
import math
import threading

from firmware_bridge.live import FLOW, OUTLET_EC25, Live, Update


async def test_latest_keeps_older_values_of_other_names() -> None:
    """A name left out, or NaN, keeps its older value and instant."""
    live = Live()
    live.publish("bar", 1000, {OUTLET_EC25: 412.0, FLOW: 1.5})
    live.publish("bar", 2000, {FLOW: 0.0, OUTLET_EC25: math.nan})
    latest = live.latest("bar")

    assert latest.values == {OUTLET_EC25: 412.0, FLOW: 0.0}
    assert latest.at_ms == {OUTLET_EC25: 1000, FLOW: 2000}


def test_line_never_heard_has_no_values() -> None:
    """Before the first publishing there is nothing."""
    assert Live().latest("bar").values == {}


def test_standard_error_travels_beside_its_value() -> None:
    """A value's standard error is found by the value's name."""
    live = Live()
    live.publish("bar", 1, {FLOW: 1.5, f"{FLOW}_sd": 0.05})

    assert live.latest("bar").spread(FLOW) == 0.05
    assert live.latest("bar").spread(OUTLET_EC25) is None


async def test_listener_gets_updates_in_order_from_another_thread() -> None:
    """Values published by another thread reach a listener on the loop, in order."""
    live = Live()
    async with live.subscribe() as updates:
        thread = threading.Thread(
            target=lambda: [live.publish("bar", n, {FLOW: float(n)}) for n in range(5)]
        )
        thread.start()
        found: list[Update] = []
        async with asyncio.timeout(20):
            async for update in updates:
                found.append(update)
                if len(found) == 5:
                    break
        thread.join()

    assert [u.at_ms for u in found] == [0, 1, 2, 3, 4]


async def test_listener_that_falls_behind_loses_the_oldest() -> None:
    """A full queue drops its oldest updates and counts them; publishing never waits."""
    live = Live()
    async with live.subscribe(size=2) as updates:
        for n in range(5):
            live.publish("bar", n, {FLOW: 0.0})
        found: list[int] = []
        async for update in updates:
            found.append(update.at_ms)
            if len(found) == 2:
                break

        assert updates.dropped == 3
    assert found == [3, 4]


async def test_listener_that_left_gets_nothing_more() -> None:
    """After leaving, updates are not kept for a listener."""
    live = Live()
    async with live.subscribe() as updates:
        pass
    live.publish("bar", 1, {FLOW: 0.0})

    assert updates.dropped == 0


def test_listener_of_a_loop_that_ended_is_forgotten() -> None:
    """A listener whose event loop is closed is taken off the list by the next value."""
    live = Live()

    async def come_and_go() -> None:
        live.subscribe(size=1)

    asyncio.run(come_and_go())
    live.publish("bar", 1, {FLOW: 0.0})
    live.publish("bar", 2, {FLOW: 0.0})

    assert live.latest("bar").at_ms == {FLOW: 2}
