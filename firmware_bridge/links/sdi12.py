"""SDI-12 sensors through a serial adapter: 1200 baud, 7 bits, even parity, one question at a time.

Only measuring questions are asked (aM!, aC!, aD0!, a!): none of them changes a sensor's settings.
"""

from __future__ import annotations

import asyncio
import termios
import time

import msgspec
import serial

from analytics.errors import LinkError, MeterError
from firmware_bridge.links.asked import AskedLink
from firmware_bridge.readings import sdi12

BREAK_S = 0.015
"""At least 12 ms wake the sensors; after 8.33 ms of silence they listen (SDI-12 1.4, 7.0)."""
MARK_S = 0.010
ANSWER_S = 0.4
"""A sensor begins to answer within 15 ms; an adapter may take longer (common practice)."""
PIECE_S = 0.05
TRIES = 3
LONGEST = 120
SILENT_ROUNDS = 3
HINT = "Check 12 V, the data line, the adapter's port, and the address: lastlitre meters scan"


class Sdi12Bus:
    """The bus behind one adapter. Its calls wait: not for the event loop."""

    def __init__(self, port: str, baud: int = 1200, *, plain: bool = False) -> None:
        """`plain`: the adapter itself turns 8 bits without parity into what the bus wants."""
        self._port = port
        try:
            self._line = serial.Serial(
                port,
                baud,
                bytesize=serial.EIGHTBITS if plain else serial.SEVENBITS,
                parity=serial.PARITY_NONE if plain else serial.PARITY_EVEN,
                timeout=PIECE_S,
                write_timeout=2.0,
                exclusive=True,
            )
        except termios.error as fault:
            hint = 'The port cannot do 7 bits with even parity: try bits = "8n1".'
            raise LinkError(f"port {port} cannot be opened: {fault}", hint) from fault
        except (OSError, ValueError) as fault:
            hint = "Check that the adapter is plugged in and that no other program holds it."
            raise LinkError(f"port {port} cannot be opened: {fault}", hint) from fault

    def ask(self, question: str, *, tries: int = TRIES, patience_s: float = ANSWER_S) -> bytes:
        """The answer without its end of line; empty where none came. Raises LinkError."""
        try:
            for _ in range(tries):
                self._line.reset_input_buffer()
                self._line.send_break(BREAK_S)
                time.sleep(MARK_S)
                self._line.write(question.encode("ascii"))
                answer = self._answer(question, patience_s)
                if answer:
                    return answer
        except (OSError, termios.error) as fault:
            raise LinkError(f"port {self._port} is gone: {fault}", HINT) from fault
        return b""

    def hear(self, patience_s: float) -> bytes:
        """What a sensor says by itself: a service request. Raises LinkError."""
        try:
            return self._answer("", patience_s)
        except (OSError, termios.error) as fault:
            raise LinkError(f"port {self._port} is gone: {fault}", HINT) from fault

    def close(self) -> None:
        """Let go of the port."""
        self._line.close()

    def _answer(self, question: str, patience_s: float) -> bytes:
        """One line. Many adapters give the question back first: it is cut off."""
        end, said = time.monotonic() + patience_s, b""
        while not said.endswith(b"\n") and len(said) < LONGEST and time.monotonic() < end:
            said += self._line.read_until(b"\n", LONGEST - len(said))
        said = bytes(byte & 0x7F for byte in said).removeprefix(question.encode("ascii"))
        return said.strip(b"\r\n\0 ") if said.endswith(b"\n") else b""


def measure(bus: Sdi12Bus, address: str, *, concurrent: bool, check: bool) -> list[float]:
    """All values of one measurement. Raises MeterError for an answer that cannot be used, LinkError
    when the port is gone."""
    question = f"{address}{'C' if concurrent else 'M'}{'C' if check else ''}!"
    answer = bus.ask(question)
    if not answer:
        raise MeterError(f"SDI-12 sensor {address} does not answer {question}", HINT)
    found = sdi12.started(answer.decode("ascii", "replace"), address)
    if found is None:
        raise MeterError(f"SDI-12 sensor {address} answers {question} with {answer!r}", HINT)
    wait_s, count = found
    if wait_s and not concurrent:
        bus.hear(wait_s + 0.1)  # it says its address when it is done sooner
    elif wait_s:
        time.sleep(wait_s)
    return _values(bus, address, count, check)


def _values(bus: Sdi12Bus, address: str, count: int, check: bool) -> list[float]:
    gathered: list[float] = []
    for part in range(10):
        if len(gathered) >= count:
            break
        question = f"{address}D{part}!"
        answer = bus.ask(question)
        body = sdi12.checked(answer) if check else answer
        if body is None:
            raise MeterError(f"SDI-12 sensor {address}: the check of {answer!r} is wrong", HINT)
        more = sdi12.values(body.decode("ascii", "replace"), address)
        if not more:
            raise MeterError(f"SDI-12 sensor {address} answers {question} with {answer!r}", HINT)
        gathered += more
    return gathered


class Sdi12Line(AskedLink):
    """One sensor, asked again and again; each round puts its values or what was wrong."""

    def __init__(
        self,
        port: str,
        address: str,
        *,
        baud: int,
        plain: bool,
        every_s: float,
        concurrent: bool,
        check: bool,
    ) -> None:
        super().__init__(f"port {port}, SDI-12 address {address}")
        self._port, self._baud, self._address = port, baud, address
        self._plain = plain
        self._every_s = every_s
        self._concurrent, self._check = concurrent, check
        self._bus: Sdi12Bus | None = None

    async def connect(self) -> None:
        """Take the port. Raises LinkError."""
        self._bus = await asyncio.to_thread(
            lambda: Sdi12Bus(self._port, self._baud, plain=self._plain)
        )

    async def talk(self) -> None:
        """Measure every so often. Raises LinkError when the port is gone or nobody answers."""
        silent = 0
        while True:
            begun = time.monotonic()
            bus = self._bus
            if bus is None:
                raise LinkError(f"{self.name} is not open")
            try:
                said: object = await asyncio.to_thread(
                    measure, bus, self._address, concurrent=self._concurrent, check=self._check
                )
                silent = 0
            except MeterError as fault:
                silent += 1
                said = {"fault": f"{fault}. {fault.hint}"}
            self.post.put(msgspec.json.encode(said))
            if silent >= SILENT_ROUNDS:
                raise LinkError(f"{self.name}: no usable answer {silent} times running", HINT)
            await asyncio.sleep(max(begun + self._every_s - time.monotonic(), 0.01))

    def let_go(self) -> None:
        """Close the port."""
        bus, self._bus = self._bus, None
        if bus is not None:
            bus.close()
