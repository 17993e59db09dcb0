"""Modbus by pymodbus: registers are read, nothing is ever written to a device.

Each round over all `Read`s puts one message: a JSON list, an entry a Read: its registers, or
{"code": n} where the unit answered with an exception, or {"silent": true}.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import Counter
from collections.abc import Callable
from typing import Any, Literal

import msgspec

from analytics.errors import LinkError
from firmware_bridge.links.asked import AskedLink
from firmware_bridge.links.shared import Shared

SILENT_ROUNDS = 3
"""After so many rounds in which no unit answered, the line is let go of and opened again."""
SPARED_ROUNDS = 8
"""A unit that stays silent beside others that answer is asked once in so many rounds: each silence
costs all who wait for the line."""
SERIAL_HINT = (
    "Check that the converter is plugged in, that `port` names it, that no other program holds "
    "it, and that this user may use it: sudo usermod -a -G dialout $USER, then log in anew."
)
SILENT_SERIAL = (
    "Check A and B (swap them if unsure), the unit numbers, baud and parity. "
    "Try: lastlitre meters scan {port}"
)
SILENT_TCP = "Check the unit numbers, and the gateway's own baud and parity."


SILENT: dict[str, bool] = {"silent": True}


class Read(msgspec.Struct, frozen=True, kw_only=True):
    """Registers to read at one go."""

    unit: int
    function: Literal["input", "holding"]
    address: int
    count: int


class Bus:
    """A line that one or several meters ask on, one at a time, round by round.

    `make` makes a fresh pymodbus client, which is connected once; the last to leave closes it.
    """

    def __init__(self, make: Callable[[], Any]) -> None:
        self.turn = asyncio.Lock()
        self.client: Any = None
        self._make = make
        self._joining = asyncio.Lock()
        self._users: set[object] = set()
        self._silent = 0

    @property
    def connected(self) -> bool:
        """Whether the line is open."""
        return self.client is not None and bool(self.client.connected)

    @property
    def dead(self) -> bool:
        """Whether nobody has had an answer for so long that opening it again is worth a try."""
        return self._silent >= SILENT_ROUNDS * max(len(self._users), 1)

    async def join(self, user: object) -> bool:
        """Take the line, or take part in it; whether it is open. Raises OSError, ValueError."""
        self._users.add(user)
        async with self._joining:
            if not self.connected:
                self.drop()
                client = self.client = self._make()
                await client.connect()
            return self.connected

    def leave(self, user: object) -> None:
        """Ask no more."""
        self._users.discard(user)
        if not self._users:
            self.drop()

    def heard(self, answered: bool) -> None:
        """A round is over."""
        self._silent = 0 if answered else self._silent + 1

    def drop(self) -> None:
        """Let go of the line, for everybody."""
        client, self.client = self.client, None
        self._silent = 0
        if client is not None:
            client.close()


class ModbusLine(AskedLink):
    """What one meter asks on a Modbus line."""

    def __init__(
        self,
        name: str,
        bus: Bus,
        reads: tuple[Read, ...],
        *,
        every_s: float,
        answer_s: float,
        hints: tuple[str, str],
    ) -> None:
        super().__init__(name)
        self._bus = bus
        self._reads = reads
        self._every_s = every_s
        self._answer_s = answer_s
        self._hints = hints
        self._quiet: Counter[int] = Counter()

    async def connect(self) -> None:
        """Take the port, or connect. Raises LinkError."""
        self._quiet.clear()
        try:
            connected = await self._bus.join(self)
        except (OSError, ValueError) as fault:
            raise LinkError(f"{self.name} cannot be opened: {fault}", self._hints[0]) from fault
        if not connected:
            raise LinkError(f"{self.name} cannot be opened", self._hints[0])

    async def talk(self) -> None:
        """A round every so often. Raises LinkError."""
        silent = rounds = 0
        while True:
            begun = time.monotonic()
            async with self._bus.turn:
                answers = await self._round(rounds)
            rounds += 1
            answered = not all(_is_silent(answer) for answer in answers)
            self._bus.heard(answered)
            silent = 0 if answered else silent + 1
            self.post.put(msgspec.json.encode(answers))
            if not self._bus.connected or self._bus.dead:
                self._bus.drop()
            if not self._bus.connected or silent >= SILENT_ROUNDS:
                what = "no unit answers" if silent else "the connection ended"
                raise LinkError(f"{self.name}: {what}", self._hints[1])
            await asyncio.sleep(max(begun + self._every_s - time.monotonic(), 0.01))

    def let_go(self) -> None:
        """Ask no more."""
        self._bus.leave(self)

    async def _round(self, number: int) -> list[object]:
        """An answer for each question. A unit that has just been silent is not asked on, one that
        stays silent is spared most rounds."""
        answers: list[object] = []
        silent: set[int] = set()
        for read in self._reads:
            spared = self._quiet[read.unit] >= SILENT_ROUNDS and number % SPARED_ROUNDS
            answer = SILENT if spared or read.unit in silent else await self._ask(read)
            answers.append(answer)
            if _is_silent(answer):
                silent.add(read.unit)
        self._quiet = Counter({unit: self._quiet[unit] + 1 for unit in silent})
        return answers

    async def _ask(self, read: Read) -> object:
        """One answer. After silence, the time for a late answer passes before the next question,
        so that it is not taken for the next one's."""
        from pymodbus.exceptions import ModbusException

        client = self._bus.client
        if client is None:  # let go of meanwhile
            return SILENT
        ask = getattr(client, f"read_{read.function}_registers")
        try:
            answer = await ask(read.address, count=read.count, device_id=read.unit)
        except ModbusException:
            await asyncio.sleep(self._answer_s)
            return SILENT
        if answer.isError():
            return {"code": int(getattr(answer, "exception_code", 0))}
        if len(answer.registers) != read.count:  # another question's answer
            return SILENT
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
    shared: Shared | None = None,
) -> ModbusLine:
    """Modbus RTU on a serial port; meters that share it take turns."""

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
    bus = (shared or Shared()).of(port, Bus, lambda: Bus(make))
    return ModbusLine(f"port {port}", bus, reads, every_s=every_s, answer_s=answer_s, hints=hints)


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
    return ModbusLine(name, Bus(make), reads, every_s=every_s, answer_s=answer_s, hints=hints)


def quiet_library() -> None:
    """What the library logs for each silent unit is said by us, once, in plain words."""
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)


def _is_silent(answer: object) -> bool:
    return isinstance(answer, dict) and "silent" in answer
