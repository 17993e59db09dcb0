"""How many rows a second the parser finds on one core: python tests/bench/frames.py"""

from __future__ import annotations

import time

from firmware_bridge.firmware import frames


def stream(rows: int) -> bytes:
    """Rows as a node sends them, with plausible figures."""
    return b"".join(
        frames.Data(
            1, 77, seq, 1000 * seq, 0, 65_000 + seq % 90, 21_500, 84_600 + seq % 70, 20_300, seq, 0
        ).wire()
        for seq in range(1, rows + 1)
    )


def frames_a_second(rows: int = 100_000, chunk: int = 4096) -> float:
    """Rows parsed a second of CPU time, read in chunks of this many bytes."""
    data = stream(rows)
    parser = frames.Parser()
    found = 0
    start = time.process_time()
    for place in range(0, len(data), chunk):
        found += len(parser.feed(data[place : place + chunk]))
    spent = time.process_time() - start
    if found != rows:
        raise SystemExit(f"{found} rows found of {rows}")
    return rows / spent


def main() -> None:
    """Print one line a chunk size."""
    for chunk in (51, 512, 4096):
        print(f"parse, chunks of {chunk:5d} B: {frames_a_second(chunk=chunk):10,.0f} frames/s")


if __name__ == "__main__":
    main()
