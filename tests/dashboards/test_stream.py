"""One message a second for every kind of reader, bounded queues, an end when told."""

from __future__ import annotations

import asyncio

from dashboards.stream import Mailbox, Stream, event


class Writer:
    """Counts how often each kind's message is written."""

    def __init__(self) -> None:
        self.written: dict[str, int] = {}

    async def __call__(self, kind: str) -> bytes:
        self.written[kind] = self.written.get(kind, 0) + 1
        return f"{kind}{self.written[kind]}".encode()


async def read(stream: Stream[str], kind: str, count: int) -> list[bytes]:
    """The first messages of one page."""
    found: list[bytes] = []
    messages = stream.listen(kind)
    async for message in messages:
        found.append(message)
        if len(found) == count:
            break
    await messages.aclose()  # type: ignore[attr-defined]
    return found


async def test_first_message_comes_at_once_and_more_follow() -> None:
    """A page hears at once, then with every beat."""
    stream = Stream(Writer(), every_s=0.01)

    assert len(await read(stream, "a", 3)) == 3


async def test_pages_of_one_kind_share_their_message() -> None:
    """However many pages listen, a beat writes one message a kind."""
    writer = Writer()
    stream = Stream(writer, every_s=0.05)
    pages = [asyncio.create_task(read(stream, "a", 4)) for _ in range(50)]
    found = await asyncio.gather(*pages)

    assert all(messages[-1] == found[0][-1] for messages in found)
    assert writer.written["a"] <= 50 + 4


async def test_nothing_is_written_while_no_page_is_open() -> None:
    """When the last page leaves, the beat stops."""
    writer = Writer()
    stream = Stream(writer, every_s=0.01)
    await read(stream, "a", 2)
    before = dict(writer.written)
    await asyncio.sleep(0.1)

    assert stream.open_pages == 0
    assert writer.written["a"] <= before["a"] + 1


async def test_page_that_falls_behind_loses_its_oldest_messages() -> None:
    """A full queue drops what is oldest and keeps what is newest."""
    box = Mailbox(size=2)
    for message in (b"1", b"2", b"3"):
        box.offer(message)

    assert [await box.take(), await box.take()] == [b"2", b"3"]


async def test_closing_ends_every_open_page_and_refuses_new_ones() -> None:
    """After closing, streams that are open end and new ones end at once."""
    stream = Stream(Writer(), every_s=10)
    messages = stream.listen("a")
    first = await anext(messages)
    stream.close()

    assert first == b"a1"
    assert [message async for message in messages] == []
    assert await read(stream, "a", 1) == []


def test_event_is_one_line_of_data_and_a_blank_line() -> None:
    """A server-sent event ends with a blank line and says when to come back."""
    assert event(b'{"a":1}') == b'retry: 2000\ndata: {"a":1}\n\n'
