"""SDI-12: published checks, a sensor on a cable, wrong and missing answers."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.readings import sdi12
from tests.firmware_bridge.meters.at_work import at_work, site_with


@pytest.mark.parametrize(
    ("text", "value", "characters"),
    [
        (b"1+2.7+85.2-0.2-2.7+770.5", 0x3048, b"CAH"),  # a sensor manual
        (b"0+3.14", 0xFC5A, b"OqZ"),  # SDI-12 specification
        (b"0+1.23", 0x761A, b"GXZ"),
        (b"0+25.50-3.14+100", 0xDF32, bytes.fromhex("4D7C72")),
    ],
)
def test_published_checks(text: bytes, value: int, characters: bytes) -> None:
    """CRC-16/ARC in three printable characters."""
    assert sdi12.crc(b"123456789") == 0xBB3D
    assert sdi12.crc(text) == value
    assert sdi12.crc_text(text) == characters
    assert sdi12.checked(text + characters) == text
    assert sdi12.checked(text + b"@@@") is None


@pytest.mark.parametrize(
    ("answer", "found"),
    [
        ("0+3.14-2+.5", [3.14, -2.0, 0.5]),
        ("0", []),
        ("1+3.14", None),
        ("0+3.14x", None),
        ("0++3", None),
    ],
)
def test_values_of_an_answer(answer: str, found: list[float] | None) -> None:
    """Another sensor's answer, or half an answer, is none."""
    assert sdi12.values(answer, "0") == found


class Sensor:
    """A sensor at the end of an adapter: what it answers to each question, by the test."""

    def __init__(self, answers: dict[str, bytes]) -> None:
        self.answers = answers
        self.asked: list[str] = []
        self.pair = PtyPair()
        self.over = False

    def live(self) -> None:
        """Answer questions until it is over."""
        heard = b""
        while not self.over:
            heard += self.pair.read().replace(b"\0", b"")
            while b"!" in heard:
                question, heard = heard.split(b"!", 1)
                self.asked.append(question.decode() + "!")
                self.pair.write(self.answers.get(self.asked[-1], b""))
            time.sleep(0.002)


@contextmanager
def sensor(answers: dict[str, bytes]) -> Iterator[Sensor]:
    """A sensor that lives meanwhile."""
    board = Sensor(answers)
    thread = threading.Thread(target=board.live)
    thread.start()
    try:
        yield board
    finally:
        board.over = True
        thread.join(15)
        board.pair.close()


def line(text: bytes) -> bytes:
    """An answer with its check and end of line."""
    return text + sdi12.crc_text(text) + b"\r\n"


def meter(port: str, more: str = "") -> str:
    """A meter on this adapter."""
    return f"""
[[meter]]
driver = "sdi-12"
port = "{port}"
bits = "8n1"
every = "0.2 s"
outlet_conductivity = 2
outlet_temperature = 1
{more}
"""


async def test_a_sensor_is_measured() -> None:
    """Start, service request, data in two parts, each with its check; the question given back."""
    answers = {
        "0MC!": b"0MC!00012\r\n0\r\n",
        "0D0!": line(b"0+15.25"),
        "0D1!": line(b"0+557.5"),
    }
    with sensor(answers) as board:
        async with at_work(site_with(meter(board.pair.port))) as rig:
            await rig.rows_more(2)

            assert rig.newest("outlet_us_cm") == 557.5
            assert rig.newest("outlet_temp_c") == 15.25
            assert set(board.asked) == {"0MC!", "0D0!", "0D1!"}


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({}, "does not answer 0MC!"),
        ({"0MC!": b"1000" + b"2\r\n"}, "answers 0MC! with"),
        ({"0MC!": b"00002\r\n", "0D0!": b"0+15+557@@@\r\n"}, "check of"),
        ({"0MC!": b"00002\r\n", "0D0!": line(b"0")}, "answers 0D0! with"),
    ],
)
async def test_wrong_answers_are_no_values(answers: dict[str, bytes], said: str) -> None:
    """Silence, another sensor, a wrong check, an aborted measurement: said, counted, no row."""
    with sensor(answers) as board:
        async with at_work(site_with(meter(board.pair.port))) as rig:
            await rig.until(lambda r: r.health.counts.get("answers_missing"), "a count")
            await rig.until(lambda r: said in r.health.last_fault, said)

            assert len(rig.rows) == 0
            assert rig.health.faults == 0
