"""The benchmark: `python -m tests.bench [SECTION ...] [--json]`. Measures; asserts nothing."""

from __future__ import annotations

import argparse
import importlib
import json
import os
import pkgutil
import platform
from pathlib import Path
from typing import Any

from firmware_bridge.thrift import one_thread_of_algebra

SHORT = {"store": 30, "forward": 60_000}
"""What the sections that print for themselves are asked for here: a month, sixty thousand rows."""


def sections() -> list[str]:
    """Names of the sections there are, one a file of this folder."""
    here = Path(__file__).parent
    return [m.name for m in pkgutil.iter_modules([str(here)]) if not m.name.startswith("_")]


def machine() -> dict[str, str]:
    """What it was measured on; of the system's name what a reader can use."""
    release = ".".join(platform.release().split(".")[:2])
    return {
        "python": platform.python_version(),
        "system": f"{platform.system()} {release} {platform.machine()}",
        "cores": str(os.cpu_count()),
        "load": f"{os.getloadavg()[0]:.1f}",
    }


def main() -> None:
    """Run the sections asked for, or all."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("section", nargs="*", help=f"any of: {', '.join(sections())}")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument(
        "--lives", type=int, help="calibration: how many lives (500 for the record)"
    )
    parser.add_argument("--count", type=int, help="diagnosis: how many stretches (2000 on record)")
    parser.add_argument("--part", action="append", help="fleet: only this part; may be repeated")
    parser.add_argument("--short", action="store_true", help="fleet: seconds that prove it runs")
    asked = parser.parse_args()
    one_thread_of_algebra()
    found: dict[str, dict[str, float]] = {}
    for name in asked.section or sections():
        module = importlib.import_module(f"tests.bench.{name}")
        if hasattr(module, "run"):
            more: dict[str, Any] = {}
            more |= {"lives": asked.lives} if name == "calibration" and asked.lives else {}
            more |= {"count": asked.count} if name == "diagnosis" and asked.count else {}
            if name == "fleet":
                more = {"parts": tuple(asked.part or ()), "short": asked.short}
            found[name] = dict(module.run(**more))
        elif not asked.json:
            print(f"{name}:")
            if hasattr(module, "main"):
                module.main()
            else:
                module.report(SHORT[name])
    if asked.json:
        print(json.dumps({"machine": machine(), "figures": found}, indent=2))
        return
    print("  ".join(f"{key} {value}" for key, value in machine().items()))
    for name, figures in found.items():
        for what, value in figures.items():
            print(f"{name:10} {what:48} {value:,.4g}")


if __name__ == "__main__":
    main()
