"""The library's own Modbus server with a device's registers, on TCP or at the end of a cable."""

from __future__ import annotations

import asyncio
import os
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from pymodbus import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from firmware_bridge.links.pty_pair import PtyPair


def float_words(value: float) -> list[int]:
    """A 32-bit float as two registers, high word first."""
    return list(struct.unpack(">HH", struct.pack(">f", value)))


def long_words(value: int) -> list[int]:
    """A 32-bit count as two registers, high word first."""
    return [value >> 16 & 0xFFFF, value & 0xFFFF]


def device(unit: int, registers: list[int]) -> SimDevice:
    """A device with these registers, from 0 on, the same as input and as holding registers."""
    data = [SimData(0, values=registers, datatype=DataType.REGISTERS)]
    return SimDevice(id=unit, simdata=data)


class TcpDevice:
    """A server whose registers a test sets."""

    def __init__(self, server: ModbusTcpServer | ModbusSerialServer, port: int = 0) -> None:
        self._server = server
        self.port = port

    async def set(self, unit: int, address: int, registers: list[int]) -> None:
        """Put other numbers there."""
        await self._server.context.async_setValues(unit, 16, address, registers)


@asynccontextmanager
async def tcp_server(*devices: SimDevice, port: int = 0) -> AsyncIterator[TcpDevice]:
    """A Modbus TCP server on a free port."""
    server = ModbusTcpServer(list(devices), address=("127.0.0.1", port))
    await server.serve_forever(background=True)
    found = server.transport.sockets[0].getsockname()[1]
    try:
        yield TcpDevice(server, found)
    finally:
        await server.shutdown()


@asynccontextmanager
async def rtu_server(port: str, *devices: SimDevice) -> AsyncIterator[TcpDevice]:
    """A Modbus RTU server on a serial port; it says nothing for units it does not have."""
    there = {device.id for device in devices}

    def silent_where_nobody_is(sending: bool, data: bytes) -> bytes:
        return b"" if sending and data and data[0] not in there else data

    server = ModbusSerialServer(
        list(devices), framer=FramerType.RTU, port=port, trace_packet=silent_where_nobody_is
    )
    await server.serve_forever(background=True)
    try:
        yield TcpDevice(server)
    finally:
        await server.shutdown()


class Cable:
    """Two serial ports joined by a cable."""

    def __init__(self) -> None:
        self.one, self.other = PtyPair(), PtyPair()

    @asynccontextmanager
    async def plugged(self) -> AsyncIterator[Cable]:
        """Bytes go both ways meanwhile."""
        loop = asyncio.get_running_loop()
        pairs = ((self.one, self.other), (self.other, self.one))
        for here, there in pairs:
            loop.add_reader(here.node_fd, _pass_on, here.node_fd, there.node_fd)
        try:
            yield self
        finally:
            for here, _ in pairs:
                loop.remove_reader(here.node_fd)
                here.close()


def _pass_on(here: int, there: int) -> None:
    os.write(there, os.read(here, 4096))
