"""The short-lived child that compiles a site file: `python -m firmware_bridge.config.compile FILE`.

The file's bytes come on standard input; the answer, a msgpack map with `site` or `faults`, goes to
standard output. So the daemon never loads pint.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import msgspec

from firmware_bridge.config.build import compile_bytes


def answer(data: bytes, path: Path, now: dt.datetime) -> bytes:
    """The packed site of a file's bytes, or its packed faults."""
    found = compile_bytes(data, str(path), path.absolute().parent, now)
    key = "faults" if isinstance(found, list) else "site"
    return msgspec.msgpack.encode({key: found})


def main() -> None:
    """Compile what comes on standard input."""
    data = sys.stdin.buffer.read()
    sys.stdout.buffer.write(answer(data, Path(sys.argv[1]), dt.datetime.now(dt.UTC)))


if __name__ == "__main__":
    main()
