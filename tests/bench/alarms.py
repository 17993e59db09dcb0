"""The alarm system over simulated lives, measured against what ISA-18.2 and EEMUA 191 ask for.

`python -m tests.bench alarms`; `python -m tests.bench.alarms --count 60` for some fifteen years.
"""

from __future__ import annotations

import argparse
import sys
import time

from analytics.alarm_figures import AlarmFigures, together
from tests.alarm_year import watched

ASKED = (
    ("alarms a day", "< 144"),
    ("most on a day", "< 144"),
    ("most in ten minutes", "<= 10"),
    ("chattering", "0"),
    ("fleeting", "0"),
    ("most stale at a time", "< 5"),
    ("low / medium / high %", "80 / 15 / 5"),
)


def measured(count: int, seed: int = 5) -> AlarmFigures:
    """Figures over so many lives together."""
    return together(watched(number, seed).figures for number in range(count))


def run(count: int = 6, seed: int = 5) -> dict[str, float]:
    """The figures, one a name."""
    begun = time.perf_counter()
    found = measured(count, seed)
    told = {
        "days": found.days,
        "alarms a day": found.a_day,
        "most on a day": float(found.most_a_day),
        "most in ten minutes": float(found.most_in_ten_minutes),
        "chattering": float(found.chattering),
        "fleeting": float(found.fleeting),
        "most stale at a time": float(found.most_stale),
    }
    told |= {f"{name} %": 100 * found.share(name) for name in ("low", "medium", "high")}
    told |= {f"raised: {name}": float(count) for name, count in found.by_alarm.items()}
    return told | {"seconds": time.perf_counter() - begun}


def main() -> None:
    """Run as a program."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    for name, value in run(options.count, options.seed).items():
        sys.stdout.write(f"{name}: {value:.4g}\n")
    for name, asked in ASKED:
        sys.stdout.write(f"asked for {name}: {asked}\n")


if __name__ == "__main__":
    main()
