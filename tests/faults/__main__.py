"""Faults, really made: `python -m tests.faults [--long] [--only NAME ...] [--json]`.

Every line is a fault that was made so often while rows flowed, and what was then missing or there
twice. The short form takes about a minute. Ends with 1 where a row that had been confirmed was lost
(but for files damaged on purpose, which lose what was on the damaged pages) or was there twice.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from tests import stream_faults
from tests.faults import damaged, failing, full, killed, power, soak
from tests.stream_faults import Outcome

Fault = Callable[[Path, int], Outcome]


def _stream(fault: Callable[..., object]) -> Fault:
    def run(folder: Path, times: int) -> Outcome:
        folder.mkdir(parents=True)
        return asyncio.run(fault(folder, times))  # type: ignore[arg-type]

    return run


FAULTS: dict[str, tuple[Fault, int, int]] = {
    "killed": (killed.daemon_killed, 3, 500),
    "power": (power.power_cuts, 60, 2000),
    "errors": (failing.errors, 12, 300),
    "short-writes": (failing.short_writes, 12, 300),
    "no-room": (failing.no_room, 12, 300),
    "bits": (damaged.bits_flipped, 24, 400),
    "cuts": (damaged.files_cut, 18, 300),
    "disk-full": (full.disk_full, 1, 10),
    "broker": (_stream(stream_faults.broker_killed_with_messages), 1, 20),
    "series-store": (_stream(stream_faults.series_store_killed), 1, 10),
    "anything": (_stream(stream_faults.killed_at_random), 4, 50),
    "receiver": (_stream(stream_faults.receiver_restored), 1, 10),
}
"""Each with how often it is made in the short and in the long form."""
EXPECTED_TO_LOSE = frozenset(("bits", "cuts"))
SOAK_DAYS = 7.0
MOST_GROWTH = 0.05


def main() -> int:
    """Make the faults asked for, print the table; 1 where something was lost or doubled."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--long", action="store_true", help="hundreds of each, and the soak")
    parser.add_argument("--only", nargs="+", choices=[*FAULTS, "soak"], help="only these")
    parser.add_argument("--times", type=int, help="so often each")
    parser.add_argument("--json", action="store_true", help="as JSON")
    asked = parser.parse_args()
    found, bad = [], []
    with tempfile.TemporaryDirectory(prefix="lastlitre-faults-") as scratch:
        for name, (fault, short, long) in FAULTS.items():
            if asked.only and name not in asked.only:
                continue
            folder = Path(scratch) / name
            if name == "disk-full" and not full.may_mount(folder / "try"):
                _say(f"{name}: not made, this user may not mount a file system")
                continue
            began = time.monotonic()
            outcome = fault(folder / "run", asked.times or (long if asked.long else short))
            found.append(outcome)
            if (outcome.lost and name not in EXPECTED_TO_LOSE) or outcome.doubled:
                bad.append(name)
            if not asked.json:
                _say(_line(outcome, time.monotonic() - began))
        if asked.long or (asked.only and "soak" in asked.only):
            soaked = soak.soaked(Path(scratch) / "soak", SOAK_DAYS)
            _say(msgspec.json.encode(soaked).decode())
            bad += ["soak"] if soaked.grown > MOST_GROWTH else []
    if asked.json:
        _say(msgspec.json.encode(found).decode())
    return 1 if bad else 0


def _line(outcome: Outcome, took_s: float) -> str:
    return (
        f"{outcome.fault:<55} times {outcome.times:>4}  rows {outcome.rows:>7}  "
        f"lost {outcome.lost:>5}  doubled {outcome.doubled:>3}  "
        f"recovers in {outcome.recover_s:6.2f} s  ({took_s:.0f} s)"
    )


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
