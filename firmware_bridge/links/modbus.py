"""Modbus by pymodbus: registers are read, nothing is ever written to a device.

Each round over all `Read`s puts one message: a JSON list, an entry a Read: its registers, or
{"code": n} where the unit answered with an exception, or {"silent": true}.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable
from typing import Any, Literal

import msgspec

from analytics.errors import LinkError
from firmware_bridge.links.asked import AskedLink

SILENT_ROUNDS = 3
"""After so many rounds in which no unit answered, the line is let go of and opened again."""
SERIAL_HINT = (
    "Check that the converter is plugged in, that `port` names it, that no other program holds "
    "it, and that this user may use it: sudo usermod -a -G dialout $USER, then log in anew."
)
SILENT_SERIAL = (
    "Check A and B (swap them if unsure), the unit numbers, baud and parity. "
    "Try: lastlitre meters scan {port}"
)
SILENT_TCP = "Check the unit numbers, and the gateway's own baud and parity."


class Read(msgspec.Struct, frozen=True, kw_only=True):
    """Registers to read at one go."""

    unit: int
    function: Literal["input", "holding"]
    address: int
    count: int


class ModbusLine(AskedLink):
    """One Modbus line. `make` makes a fresh pymodbus client, which is connected once."""

    def __init__(
        self,
        name: str,
        make: Callable[[], Any],
        reads: tuple[Read, ...],
        *,
        every_s: float,
        answer_s: float,
        hints: tuple[str, str],
    ) -> None:
        super().__init__(name)
        self._make = make
        self._reads = reads
        self._every_s = every_s
        self._answer_s = answer_s
        self._hints = hints
        self._client: Any = None

    async def connect(self) -> None:
        """Take the port, or connect. Raises LinkError."""
        client = self._client = self._make()
        try:
            connected = await client.connect()
        except (OSError, ValueError) as fault:
            raise LinkError(f"{self.name} cannot be opened: {fault}", self._hints[0]) from fault
        if not connected:
            raise LinkError(f"{self.name} cannot be opened", self._hints[0])

    async def talk(self) -> None:
        """A round every so often. Raises LinkError."""
        silent = 0
        while True:
            begun = time.monotonic()
            answers = [await self._ask(read) for read in self._reads]
            silent = silent + 1 if all(_is_silent(answer) for answer in answers) else 0
            self.post.put(msgspec.json.encode(answers))
            if not self._client.connected or silent >= SILENT_ROUNDS:
                what = "no unit answers" if self._client.connected else "the connection ended"
                raise LinkError(f"{self.name}: {what}", self._hints[1])
            await asyncio.sleep(max(begun + self._every_s - time.monotonic(), 0.01))

    def let_go(self) -> None:
        """Close the client."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    async def _ask(self, read: Read) -> object:
        """One answer. After silence, the time for a late answer passes before the next question,
        so that it is not taken for the next one's."""
        from pymodbus.exceptions import ModbusException

        ask = getattr(self._client, f"read_{read.function}_registers")
        try:
            answer = await ask(read.address, count=read.count, device_id=read.unit)
        except ModbusException:
            await asyncio.sleep(self._answer_s)
            return {"silent": True}
        if answer.isError():
            return {"code": int(getattr(answer, "exception_code", 0))}
        if len(answer.registers) != read.count:  # another question's answer
            return {"silent": True}
        return list(answer.registers)


def serial_line(
    port: str,
    reads: tuple[Read, ...],
    *,
    baud: int = 19_200,
    parity: str = "none",
    stop_bits: int = 1,
    every_s: float = 2.0,
    answer_s: float = 0.5,
) -> ModbusLine:
    """Modbus RTU on a serial port."""

    def make() -> Any:
        from pymodbus import FramerType
        from pymodbus.client import AsyncModbusSerialClient

        quiet_library()
        return AsyncModbusSerialClient(
            port,
            framer=FramerType.RTU,
            baudrate=baud,
            parity=parity[0].upper(),
            stopbits=stop_bits,
            timeout=answer_s,
            retries=0,
            reconnect_delay=0,
        )

    hints = (SERIAL_HINT, SILENT_SERIAL.format(port=port))
    return ModbusLine(f"port {port}", make, reads, every_s=every_s, answer_s=answer_s, hints=hints)


def tcp_line(
    host: str,
    port: int,
    reads: tuple[Read, ...],
    *,
    every_s: float = 2.0,
    answer_s: float = 1.0,
) -> ModbusLine:
    """Modbus over TCP."""

    def make() -> Any:
        from pymodbus.client import AsyncModbusTcpClient

        quiet_library()
        return AsyncModbusTcpClient(host, port=port, timeout=answer_s, retries=0, reconnect_delay=0)

    hints = (f"Check that {host} is switched on and that its Modbus port is {port}.", SILENT_TCP)
    name = f"Modbus at {host}:{port}"
    return ModbusLine(name, make, reads, every_s=every_s, answer_s=answer_s, hints=hints)


def quiet_library() -> None:
    """What the library logs for each silent unit is said by us, once, in plain words."""
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)


def _is_silent(answer: object) -> bool:
    return isinstance(answer, dict) and "silent" in answer
