"""What answers on a port: our node, lines of text, Modbus units, SDI-12 sensors.

First it is only listened to; then questions are asked that change nothing: a node who it is, a
Modbus unit for one register, an SDI-12 address whether it is there. No register, setting or
address is ever written.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Iterable
from contextlib import aclosing, asynccontextmanager

import msgspec

from analytics.errors import LinkError
from firmware_bridge.firmware import frames
from firmware_bridge.links.modbus import ModbusLine, Read, serial_line, tcp_line
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.readings.registers import CODES

NODE_BAUD = 115_200
TEXT_BAUDS = (9_600, 115_200, 19_200, 38_400, 57_600)
BUS_BAUDS = (19_200, 9_600, 38_400)
LISTEN_S = 1.5
UNIT_S = 0.12
READABLE = 0.9


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that answers: its kind, what it said, and the lines for a site file."""

    kind: str
    said: str
    site_file: str = ""


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What is looked for: Modbus units, bauds, and whether SDI-12 is asked for."""

    units: tuple[int, ...] = tuple(range(1, 11))
    bauds: tuple[int, ...] = BUS_BAUDS
    sdi_12: bool = True


async def scan_port(
    port: str, wanted: Wanted, say: Callable[[str], object] = lambda _: None
) -> list[Found]:
    """Everything that answers on a serial port. Raises LinkError where it cannot be opened."""
    say("listening")
    found = await _listened(port, NODE_BAUD, ask=False) or await _texts(port)
    if found is not None:
        return [found]
    say("asking for a node")
    found = await _listened(port, NODE_BAUD, ask=True)
    if found is not None:
        return [found]
    say("asking Modbus units")
    for baud in wanted.bauds:
        units = await _units(serial_line, port, baud, wanted.units)
        if units:
            return units
    if not wanted.sdi_12:
        return []
    say("asking SDI-12 addresses")
    return await asyncio.to_thread(_sensors, port)


async def scan_tcp(host: str, port: int, wanted: Wanted) -> list[Found]:
    """Modbus units behind an address. Raises LinkError where nobody takes the connection."""
    line = tcp_line(host, port, _questions(wanted.units), answer_s=1.0, every_s=60.0)
    answering = await _one_round(line, len(wanted.units), 1.0)
    return [
        Found(
            kind="modbus",
            said=f"Modbus unit {unit}: {what}",
            site_file=_modbus_table("modbus-tcp", f'host = "{host}"\ntcp_port = {port}', unit),
        )
        for unit, what in zip(wanted.units, answering, strict=False)
        if what
    ]


async def _listened(port: str, baud: int, *, ask: bool) -> Found | None:
    """A node's frames, spoken by itself or after it was asked."""
    parser, texts = frames.Parser(), ""
    question = frames.Ask(frames.HELLO_ASK, 0, "scan")
    async with aclosing(_heard(port, baud, question, ask)) as heard:
        async for chunk in heard:
            for frame in parser.feed(chunk):
                if isinstance(frame, frames.Hello):
                    texts = frame.text
                if isinstance(frame, frames.Hello) or not ask:
                    return _node(port, frame.node, texts)
    return None


def _node(port: str, node: int, text: str) -> Found:
    table = f'[[meter]]\ndriver = "node-serial"\nport = "{port}"'
    said = f"a LastLitre node, number {node}" + (f" ({text})" if text else "")
    return Found(kind="node", said=said, site_file=table)


async def _heard(port: str, baud: int, question: frames.Ask, ask: bool) -> AsyncGenerator[bytes]:
    """What comes in; to be closed by who stops before the end, or the port stays taken."""
    async with _open(port, baud) as line:
        if ask:
            line.write(question.wire())
        loop = asyncio.get_running_loop()
        end = loop.time() + LISTEN_S
        while (left := end - loop.time()) > 0.0:
            try:
                async with asyncio.timeout(left):
                    yield await line.read()
            except TimeoutError:
                return


async def _texts(port: str) -> Found | None:
    """Whole readable lines, at the first pace at which they are readable."""
    for baud in TEXT_BAUDS:
        gathered = b""
        question = frames.Ask(frames.HELLO_ASK, 0, "scan")
        async with aclosing(_heard(port, baud, question, False)) as heard:
            async for chunk in heard:
                gathered += chunk
                if gathered.count(b"\n") >= 3 or len(gathered) > 4096:
                    break
        lines = [_plain(line) for line in gathered.split(b"\n")[1:-1] or gathered.split(b"\n")[:-1]]
        good = [line for line in lines if line]
        if good and len(good) >= READABLE * len(lines):
            table = f'[[meter]]\ndriver = "text-lines"\nport = "{port}"\nbaud = {baud}\npattern = '
            table += "'(?P<outlet_conductivity>[0-9.]+)'   # fit it to the line above"
            return Found(
                kind="text", said=f"lines of text at {baud} baud: {good[-1]!r}", site_file=table
            )
        if not gathered:
            return None
    return None


def _plain(line: bytes) -> str:
    text = line.strip(b"\r\n\0 ").decode("utf-8", errors="replace")
    return text[:80] if text and text.isprintable() and "\ufffd" not in text else ""


@asynccontextmanager
async def _open(port: str, baud: int) -> AsyncIterator[SerialLine]:
    line = SerialLine(port, baud)
    await line.open()
    try:
        yield line
    finally:
        line.close()


async def _units(
    make: Callable[..., ModbusLine], port: str, baud: int, units: tuple[int, ...]
) -> list[Found]:
    found = []
    for unit in units:  # one by one: a bus answers one at a time, and the first may be enough
        line = make(port, _questions([unit]), baud=baud, every_s=60.0, answer_s=UNIT_S)
        answers = await _one_round(line, 1, UNIT_S)
        if answers and answers[0]:
            head = f'port = "{port}"\nbaud = {baud}'
            table = _modbus_table("modbus-rtu", head, unit)
            said = f"Modbus unit {unit} at {baud} baud: {answers[0]}"
            found.append(Found(kind="modbus", said=said, site_file=table))
    return found


def _questions(units: Iterable[int]) -> tuple[Read, ...]:
    return tuple(Read(unit=unit, function="input", address=0, count=1) for unit in units)


async def _one_round(line: ModbusLine, questions: int, answer_s: float) -> list[str]:
    """What each question brought, in words; empty for silence."""
    try:
        async with asyncio.timeout(5.0 + questions * (2.0 * answer_s + 0.1)):
            await line.open()
            answers = msgspec.json.decode((await line.read()).split(b"\n")[0])
    except TimeoutError:
        return []
    finally:
        line.close()
    return [_in_words(answer) for answer in answers]


def _in_words(answer: object) -> str:
    if isinstance(answer, list):
        return f"input register 0 holds {answer[0]}"
    code = answer.get("code") if isinstance(answer, dict) else None
    if code in (10, 11) or code is None:  # a gateway speaks for somebody who does not answer
        return ""
    what, mend = CODES.get(code, ("answers", "See its manual."))
    return f"it is there, but {what} (exception {code}, input register 0). {mend}"


def _modbus_table(driver: str, head: str, unit: int) -> str:
    return (
        f'[[meter]]\ndriver = "{driver}"\n{head}\nunit = {unit}\n\n'
        "[meter.outlet_conductivity]\naddress = 0          # as in its manual, counted from 0"
    )


def _sensors(port: str) -> list[Found]:
    """SDI-12 addresses that answer whether they are there."""
    from firmware_bridge.links.sdi12 import Sdi12Bus
    from firmware_bridge.readings.sdi12 import ADDRESSES

    for bits in ("7e1", "8n1"):
        try:
            bus = Sdi12Bus(port, plain=bits == "8n1")
        except LinkError:
            if bits == "8n1":
                raise
            continue  # a port that cannot do 7 bits
        try:
            there = [a for a in ADDRESSES[:10] if _is_there(bus.ask, a)]
        finally:
            bus.close()
        if there:
            return [_sensor(port, bits, address) for address in there]
    return []


def _is_there(ask: Callable[..., bytes], address: str) -> bool:
    return ask(f"{address}!", tries=1, patience_s=0.15) == address.encode()


def _sensor(port: str, bits: str, address: str) -> Found:
    table = f'[[meter]]\ndriver = "sdi-12"\nport = "{port}"\nbits = "{bits}"\n'
    table += f'address = "{address}"\noutlet_conductivity = 1   # which of its values it is'
    return Found(kind="sdi-12", said=f"SDI-12 sensor at address {address}", site_file=table)
