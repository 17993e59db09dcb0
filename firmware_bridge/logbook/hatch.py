"""A hatch into the running daemon for commands on the same machine: a socket beside the record.

    one line of JSON in:   {"who": "...", "act": {"kind": "drop-test", ...}}, or who and undo
    one line of JSON out:  {"number": 12, "event_id": "..."}, or {"faults": [["at_ms", "future"]]}

Only the daemon's own user can open it (mode 0600): whoever can, may write the site's file anyway.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import msgspec
import structlog

from analytics.errors import ActRefused, LastLitreError, StoreBusy
from analytics.samples import AnyEvent
from firmware_bridge.config import Site
from firmware_bridge.logbook.book import Logbook

LONGEST_LINE = 65_536
LINE_WITHIN_S = 10.0
ANSWER_WITHIN_S = 60.0

log = structlog.get_logger(__name__)


class Asked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a command wants written down: an act, or an entry taken back for a reason."""

    who: str
    act: AnyEvent | None = None
    undo: str = ""
    reason: str = ""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """The entry's number and id, or what is wrong: faults by field, or a trouble with its hint."""

    number: int = 0
    event_id: str = ""
    faults: tuple[tuple[str, str], ...] = ()
    trouble: str = ""
    hint: str = ""


def hatch_of(site: Site) -> Path:
    """Where the socket of a site lies: beside its record."""
    return Path(site.wiring.store_path).with_suffix(".hatch")


async def serve_hatch(path: Path, book: Logbook, stop: asyncio.Event) -> None:
    """Answer commands until `stop` is set."""
    line = await asyncio.to_thread(_listening, path)
    server = await asyncio.start_unix_server(
        lambda reader, writer: _answer(book, reader, writer), sock=line, limit=LONGEST_LINE
    )
    try:
        await stop.wait()
    finally:
        server.close()
        await asyncio.to_thread(path.unlink, missing_ok=True)


def _listening(path: Path) -> socket.socket:
    with _short(path) as name:
        Path(name).unlink(missing_ok=True)
        line = socket.socket(socket.AF_UNIX)
        os.fchmod(line.fileno(), 0o600)  # before it has a name, so that it is never open to others
        line.bind(name)
        os.chmod(name, 0o600)
    return line


async def _answer(
    book: Logbook, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
) -> None:
    with contextlib.suppress(ConnectionError):
        try:
            async with asyncio.timeout(LINE_WITHIN_S):
                line = await reader.readline()
            answer = await answered(book, line)
        except (TimeoutError, ValueError):  # ValueError: a line without an end
            answer = Answer(trouble="no line of JSON came", hint="Send one line.")
        writer.write(msgspec.json.encode(answer) + b"\n")
        await writer.drain()
    writer.close()


async def answered(book: Logbook, line: bytes) -> Answer:
    """The answer to one line."""
    try:
        asked = msgspec.json.decode(line, type=Asked)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as exc:
        return Answer(trouble=f"not an act: {exc}"[:200], hint="Is this program of one version?")
    try:
        if asked.act is not None:
            entry = await book.record(asked.act, asked.who)
        else:
            entry = await book.undo(asked.undo, asked.who, asked.reason)
    except ActRefused as refused:
        return Answer(faults=refused.faults)
    except LastLitreError as fault:
        return Answer(trouble=str(fault), hint=fault.hint)
    log.info("logbook.written", number=entry.seq, who=asked.who)
    return Answer(number=entry.seq, event_id=entry.event.event_id)


def ask(path: Path, asked: Asked) -> Answer | None:
    """The running daemon's answer; None where no daemon runs. Raises StoreBusy, LastLitreError."""
    with socket.socket(socket.AF_UNIX) as line, _short(path) as name:
        line.settimeout(ANSWER_WITHIN_S)
        try:
            line.connect(name)
        except (FileNotFoundError, ConnectionRefusedError):
            return None
        except PermissionError as exc:
            raise LastLitreError(
                f"{path} belongs to another user.", "Run this as the daemon's user (sudo -u)."
            ) from exc
        line.sendall(msgspec.json.encode(asked) + b"\n")
        try:
            with line.makefile("rb") as heard:
                said = heard.readline(LONGEST_LINE)
            return msgspec.json.decode(said, type=Answer)
        except (TimeoutError, msgspec.MsgspecError) as exc:
            raise StoreBusy(
                "The daemon runs, but does not answer.", "Look at its log, then at the logbook."
            ) from exc


@contextlib.contextmanager
def _short(path: Path) -> Iterator[str]:
    """A name for the socket that fits into the 107 bytes there are, however deep its folder."""
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY)
    try:
        yield f"/proc/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)
