"""Listening and stopping: open pages do not hold a stop up."""

from __future__ import annotations

import asyncio
import signal
import socket
import subprocess
import sys

import httpx
import pytest

from analytics.errors import LinkError
from dashboards.web import address_of, create_app, listen, serve
from tests.dashboards.specimens import FixedSource, line, site

PROGRAM = """
import asyncio
from dashboards.web import address_of, create_app, listen, serve
from tests.dashboards.specimens import FixedSource, line, site
listener = listen("127.0.0.1", 0)
print(address_of(listener), flush=True)
asyncio.run(serve(create_app(FixedSource(site(line()))), listener))
"""


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.timeout(60)
def test_signal_stops_the_server_with_pages_open(sent: signal.Signals) -> None:
    """A signal ends the process while three pages are open, and their streams end cleanly."""
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM], stdout=subprocess.PIPE, text=True, cwd="."
    )
    assert program.stdout is not None
    address = program.stdout.readline().strip().replace("/now", "/live?line=bar")
    with httpx.Client(timeout=20) as client:
        streams = [client.stream("GET", address) for _ in range(3)]
        pages = [stream.__enter__() for stream in streams]
        lines = [page.iter_lines() for page in pages]
        for each in lines:
            assert next(each) == "retry: 2000"
        program.send_signal(sent)
        for each in lines:
            assert all(text.startswith(("data:", "retry:")) or not text for text in each)
        for stream in streams:
            stream.__exit__(None, None, None)

    program.wait(20)
    program.stdout.close()
    assert program.returncode in (0, -sent, 128 + sent)


async def test_stop_event_ends_serving() -> None:
    """Whoever runs the pages stops them by an event; an open stream ends."""
    listener, stop = listen("127.0.0.1", 0), asyncio.Event()
    address = address_of(listener).replace("/now", "/live?line=bar")
    serving = asyncio.create_task(serve(create_app(FixedSource(site(line()))), listener, stop=stop))
    async with httpx.AsyncClient() as client, client.stream("GET", address) as page:
        lines = page.aiter_lines()
        assert await anext(lines) == "retry: 2000"
        stop.set()
        rest = [text async for text in lines]

    await asyncio.wait_for(serving, 20)
    assert all(text.startswith(("data:", "retry:")) or not text for text in rest)


async def test_cancelling_ends_serving() -> None:
    """Cancelled by its task group, serving stops as well."""
    listener = listen("127.0.0.1", 0)
    serving = asyncio.create_task(
        serve(create_app(FixedSource(site(line()))), listener, stop=asyncio.Event())
    )
    async with httpx.AsyncClient() as client:
        assert (await client.get(address_of(listener))).status_code == 200
    serving.cancel()

    with pytest.raises(asyncio.CancelledError):
        await asyncio.wait_for(serving, 20)
    assert listener.fileno() == -1


async def test_small_answers_are_sent_at_once() -> None:
    """A connection of the listener does not hold small packets back."""
    with listen("127.0.0.1", 0) as listener:
        nodelay: list[int] = []

        def look(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            accepted = writer.get_extra_info("socket")
            nodelay.append(accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        async with await asyncio.start_server(look, sock=listener):
            reader, writer = await asyncio.open_connection(*listener.getsockname())
            assert await reader.read() == b""
            writer.close()

    assert nodelay == [1]


def test_port_in_use_is_told_in_plain_words() -> None:
    """A port that another program has is named, with what to do."""
    with listen("127.0.0.1", 0) as first:
        port = first.getsockname()[1]
        with pytest.raises(LinkError, match=f"port {port}") as told:
            listen("127.0.0.1", port)

    assert "another port" in told.value.hint
