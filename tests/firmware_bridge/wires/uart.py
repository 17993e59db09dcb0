"""What a UART at the wrong pace makes of bytes: the line's bits, sampled at other moments.

idle 1 | start 0 | eight bits, lowest first | stop 1          8 data bits, no parity
"""

from __future__ import annotations


def levels(data: bytes) -> list[int]:
    """The line, one entry a bit of the sender, idle before and after."""
    bits = [1] * 4
    for byte in data:
        bits += [0, *((byte >> place) & 1 for place in range(8)), 1]
    return bits + [1] * 40


def misread(data: bytes, sent_baud: int, read_baud: int) -> bytes:
    """The bytes that a receiver at `read_baud` takes from a sender at `sent_baud`."""
    line = levels(data)
    step = sent_baud / read_baud
    found = bytearray()
    place = 0.0
    while True:
        while int(place) < len(line) and line[int(place)]:
            place += min(step, 1.0) / 4
        if int(place + 9.5 * step) >= len(line):
            return bytes(found)
        samples = [line[int(place + (bit + 1.5) * step)] for bit in range(8)]
        found.append(sum(level << bit for bit, level in enumerate(samples)))
        place += 9.5 * step
