"""Modbus meters against the library's own servers: register maps, orders, silence, exceptions."""

from __future__ import annotations

import asyncio
import math
import random
from typing import Any

import msgspec
import pytest

from analytics.samples import NO_COUNT, Flag
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.readings.registers import Order, RegisterDecoder, Slot
from tests.firmware_bridge.meters.at_work import at_work, flags_of, site_with
from tests.firmware_bridge.meters.modbus_peers import (
    Cable,
    device,
    float_words,
    long_words,
    rtu_server,
    tcp_server,
)

CHANNELS = """
[meter.outlet_conductivity]
address = 0
type = "float32"
{conductivity}

[meter.outlet_temperature]
address = 2
function = "holding"
scale = 0.01

[meter.flow_count]
address = 3
type = "uint32"
"""


def tcp(port: int, conductivity: str = "", more: str = "", channels: str = CHANNELS) -> str:
    """A meter on TCP."""
    head = f"""
[[meter]]
driver = "modbus-tcp"
host = "127.0.0.1"
tcp_port = {port}
every = "50 ms"
answer_within = "0.2 s"
{more}
"""
    return head + channels.format(conductivity=conductivity)


def rtu(port: str, channels: str, answer: str = "0.1 s") -> str:
    """A meter on a serial line."""
    head = f"""
[[meter]]
driver = "modbus-rtu"
port = "{port}"
every = "50 ms"
answer_within = "{answer}"
unit = 7
"""
    return head + channels


def registers(ec: float, temp_c: float, count: int) -> list[int]:
    """The device's registers."""
    return [*float_words(ec), round(temp_c * 100), *long_words(count)]


async def test_reads_a_register_map_over_tcp() -> None:
    """Types, scale, unit, function as stated; a counter becomes pulses since the row before."""
    async with (
        tcp_server(device(1, registers(412.5, 23.75, 4_294_967_290))) as server,
        at_work(site_with(tcp(server.port))) as rig,
    ):
        await rig.rows_more(1)
        await server.set(1, 3, long_words(4))
        await rig.until(lambda r: r.pulses, "pulses")

        assert rig.newest("outlet_us_cm") == pytest.approx(412.5)
        assert rig.newest("outlet_temp_c") == pytest.approx(23.75)
        assert math.isnan(rig.newest("inlet_us_cm"))
        assert rig.pulses == 10  # over the wrap at 32 bits
        assert set(flags_of(rig.rows)) == {0}


async def test_reads_several_units_on_a_serial_line() -> None:
    """RTU over a cable: each channel may name a unit of its own."""
    channels = """
[meter.outlet_conductivity]
address = 0
type = "uint16"
scale = 0.1
measured_in = "mS/m"

[meter.inlet_conductivity]
unit = 8
address = 1
type = "int16"
offset = -5
"""
    async with Cable().plugged() as cable:
        devices = (device(7, [557, 0]), device(8, [0, 662]))
        async with (
            rtu_server(cable.other.port, *devices),
            at_work(site_with(rtu(cable.one.port, channels))) as rig,
        ):
            await rig.rows_more(2)

            assert rig.newest("outlet_us_cm") == pytest.approx(557.0)
            assert rig.newest("inlet_us_cm") == pytest.approx(657.0)


async def test_litres_come_from_a_water_meter_by_its_pulse_value() -> None:
    """A counter of ten litres a count on a line of 3 pulses to the litre: 30 pulses a count; a
    16-bit counter goes round."""
    channels = """
[meter.flow_count]
address = 0
"""
    more = 'pulse_value = "10 L"\naccuracy_class = "2"'
    async with tcp_server(device(1, [65_535])) as server:
        meter = tcp(server.port, more=more, channels=channels)
        site = site_with(meter, k_factor="3 pulse/L")
        async with at_work(site) as rig:
            await rig.rows_more(1)
            await server.set(1, 0, [1])
            await rig.until(lambda r: r.pulses, "pulses")

            assert rig.pulses == 60
    assert site.wiring.meters[0].options.flow_spread() == pytest.approx(0.0231, abs=1e-4)


async def test_counting_goes_on_over_a_restart() -> None:
    """What flowed while the program was off is counted from the state that was kept."""
    async with tcp_server(device(1, registers(400.0, 20.0, 1000))) as server:
        site = site_with(tcp(server.port))
        async with at_work(site) as rig:
            await rig.rows_more(1)
            state = rig.lots[-1].state
        await server.set(1, 3, long_words(1100))
        async with at_work(site, state=state) as rig:
            await rig.rows_more(1)

            assert rig.pulses == 100


async def test_a_replaced_counter_costs_one_row_and_is_said() -> None:
    """A counter that stands elsewhere all at once is no water; it is counted on from there."""
    async with (
        tcp_server(device(1, registers(400.0, 20.0, 48_210_000))) as server,
        at_work(site_with(tcp(server.port))) as rig,
    ):
        await rig.rows_more(1)
        await server.set(1, 3, long_words(12))
        await rig.until(lambda r: "meter-replaced" in r.health.last_fault, "the sentence")
        await server.set(1, 3, long_words(20))
        await rig.until(lambda r: r.pulses, "pulses")

        assert rig.pulses == 8
        assert "from 48210000 to 12" in rig.health.last_fault
        assert (rig.rows.pulses == NO_COUNT).sum() == 1


async def test_swapped_words_are_noticed_and_the_mend_is_said() -> None:
    """A float whose words stand the other way round reads as nothing that can be."""
    words = float_words(412.5)
    async with (
        tcp_server(device(1, [words[1], words[0], 2375, 0, 0])) as server,
        at_work(site_with(tcp(server.port))) as rig,
    ):
        await rig.until(lambda r: r.health.last_fault, "a sentence")

        fault = rig.health.last_fault
        assert 'word_order = "low-first"' in fault
        assert "412.5 uS/cm" in fault
        assert rig.health.open
        mended = tcp(server.port, conductivity='word_order = "low-first"')
        async with at_work(site_with(mended)) as rig:
            await rig.rows_more(1)

            assert rig.newest("outlet_us_cm") == pytest.approx(412.5)


@pytest.mark.parametrize(
    ("order", "bytes_order"),
    [("low-first", "high-first"), ("high-first", "low-first"), ("low-first", "low-first")],
)
def test_the_order_that_fits_is_the_one_that_is_named(order: Order, bytes_order: Order) -> None:
    """Values as they wander from reading to reading, in each wrong order."""
    slot = Slot(
        word="outlet_conductivity",
        unit=1,
        function="input",
        address=0,
        type="float32",
        word_order="high-first",
        byte_order="high-first",
    )
    decoder = RegisterDecoder((slot,))
    chance = random.Random(5)
    for _ in range(200):
        words = float_words(557.3 + chance.gauss(0.0, 1.0))
        words = words if order == "high-first" else words[::-1]
        if bytes_order == "low-first":
            words = [word >> 8 | (word & 0xFF) << 8 for word in words]
        decoder.decode(msgspec.json.encode([words]) + b"\n")

    assert f'word_order = "{order}", byte_order = "{bytes_order}"' in decoder.complaint


def test_a_right_order_is_never_doubted() -> None:
    """Very pure water is not called swapped."""
    slot = Slot(
        word="outlet_conductivity",
        unit=1,
        function="input",
        address=0,
        type="float32",
        word_order="high-first",
        byte_order="high-first",
    )
    decoder = RegisterDecoder((slot,))
    chance = random.Random(5)
    for _ in range(5000):
        words = float_words(8.0 + chance.gauss(0.0, 0.1))
        decoder.decode(msgspec.json.encode([words]) + b"\n")

    assert decoder.complaint == ""


async def test_a_register_that_is_not_there_names_itself_and_others_go_on() -> None:
    """Exception 2: the channel is doubted and empty, the rest of the row is whole."""
    channels = CHANNELS.format(conductivity="") + "\n[meter.inlet_conductivity]\naddress = 40\n"
    async with (
        tcp_server(device(1, registers(412.5, 23.75, 5))) as server,
        at_work(site_with(tcp(server.port, channels=channels))) as rig,
    ):
        await rig.rows_more(2)

        assert rig.newest("outlet_us_cm") == pytest.approx(412.5)
        assert math.isnan(rig.newest("inlet_us_cm"))
        assert flags_of(rig.rows)[-1] == Flag.INLET_SUSPECT
        assert "inlet_conductivity (unit 1, input register 40)" in rig.health.last_fault
        assert "an address one less" in rig.health.last_fault
        assert rig.counted("answers_refused") >= 2


async def test_a_silent_unit_leaves_the_others_be() -> None:
    """One unit is switched off: its channel is empty and doubted, and it is said which."""
    channels = """
[meter.outlet_conductivity]
address = 0
[meter.inlet_conductivity]
unit = 9
address = 0
"""
    async with (
        Cable().plugged() as cable,
        rtu_server(cable.other.port, device(7, [500])),
        at_work(site_with(rtu(cable.one.port, channels))) as rig,
    ):
        await rig.rows_more(3)

        assert rig.newest("outlet_us_cm") == pytest.approx(500.0)
        assert flags_of(rig.rows)[-1] == Flag.INLET_SUSPECT
        assert "unit 9" in rig.health.last_fault
        assert "does not answer" in rig.health.last_fault
        assert rig.health.failures == 0


async def test_a_device_that_comes_back_is_read_again() -> None:
    """Nobody there: said once with what to check, tried again with back-off, then read."""
    async with tcp_server(device(1, registers(412.5, 23.75, 5))) as server:
        port = server.port
        site = site_with(tcp(port))
        async with at_work(site) as rig:
            await rig.rows_more(1)
            await server._server.shutdown()
            await rig.until(lambda r: r.health.failures >= 2, "failures")
            assert f"127.0.0.1:{port}" in rig.health.last_fault
            async with tcp_server(device(1, registers(413.5, 23.75, 5)), port=port):
                await rig.until(lambda r: r.newest("outlet_us_cm") == 413.5, "the new value")


class Answering:
    """A device on a serial line that answers as the test says, byte for byte."""

    def __init__(self, answers: list[tuple[float, bytes]]) -> None:
        self.pair = PtyPair()
        self.answers = answers
        self.asked = 0

    async def live(self) -> None:
        """Answer each question with the next (delay, bytes); the last one for ever."""
        while True:
            if self.pair.read():
                delay_s, data = self.answers[min(self.asked, len(self.answers) - 1)]
                self.asked += 1
                await asyncio.sleep(delay_s)
                self.pair.write(data)
            await asyncio.sleep(0.002)


def framed(text: str) -> bytes:
    """An RTU frame with its check (CRC-16/MODBUS, low byte first)."""
    data = bytes.fromhex(text)
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return data + crc.to_bytes(2, "little")


ONE = "\n[meter.outlet_conductivity]\naddress = 0\n"


def test_frames_of_this_test_are_right() -> None:
    """Published frames: 01 03 04 41 BC 00 00 -> 2F EB; exception 01 83 02 -> C0 F1."""
    assert framed("01 03 04 41BC0000")[-2:] == bytes.fromhex("2FEB")
    assert framed("01 83 02")[-2:] == bytes.fromhex("C0F1")


@pytest.mark.parametrize(
    "bad",
    [
        pytest.param((0.0, framed("08 04 02 0001")), id="another unit's answer"),
        pytest.param((0.0, framed("07 04 02 0001")[:-1] + b"\x00"), id="a broken check"),
        pytest.param((0.0, bytes(range(40))), id="another baud"),
        pytest.param((0.9, framed("07 04 02 0001")), id="an answer too late"),
        pytest.param((0.0, b""), id="silence"),
        pytest.param((0.0, framed("07 04 04 00010001")), id="too many registers"),
        pytest.param((0.0, framed("07 84 06")), id="busy"),
    ],
)
async def test_a_wrong_answer_is_never_a_value(bad: tuple[float, bytes]) -> None:
    """Whatever comes instead of the answer: no value is made of it, and the next good one is
    read."""
    board = Answering([bad, bad, (0.0, framed("07 04 02 01F4"))])
    life = asyncio.create_task(board.live())
    answer = "0.6 s" if bad[0] else "0.1 s"  # late: between once and twice the time it has
    try:
        async with at_work(site_with(rtu(board.pair.port, ONE, answer))) as rig:
            await rig.until(lambda r: r.newest("outlet_us_cm") == 500.0, "the good value")

            values = {float(v) for v in rig.rows.outlet_us_cm if not math.isnan(v)}
            assert values == {500.0}
            refused = rig.counted("answers_missing") + rig.counted("answers_refused")
            assert refused >= 2
            assert rig.health.faults == 0
    finally:
        life.cancel()
        await asyncio.gather(life, return_exceptions=True)
        board.pair.close()


async def test_a_port_that_is_not_there_is_said(tmp_path: Any) -> None:
    """The port's name and what to check."""
    async with at_work(site_with(rtu(f"{tmp_path}/none", ONE))) as rig:
        await rig.until(lambda r: r.health.failures >= 2, "failures")

        assert f"{tmp_path}/none" in rig.health.last_fault
