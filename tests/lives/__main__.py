"""`python -m tests.lives OUT --count N --seed S`: a batch of invented lives with their truth."""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from pathlib import Path

from .life import make_life, wished


def main(arguments: list[str] | None = None) -> int:
    """Build the batch; a line per life, then how long it took."""
    options = _options(arguments)
    cache = options.cache or options.out / ".cache"
    jobs = [(options.out, cache, number, options.seed) for number in _numbers(options)]
    begun = time.monotonic()
    if options.workers == 1:
        for job in jobs:
            sys.stdout.write(_one(job))
    else:
        # A fresh process per few lives: PHREEQC gives its memory back only at the end of one.
        context = multiprocessing.get_context("spawn")
        with context.Pool(options.workers, maxtasksperchild=8) as pool:
            for line in pool.imap_unordered(_one, jobs):
                sys.stdout.write(line)
                sys.stdout.flush()
    sys.stdout.write(f"{len(jobs)} lives in {time.monotonic() - begun:.0f} s\n")
    return 0


def _options(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.lives", description=__doc__)
    parser.add_argument("out", type=Path, help="folder for the lives, one sub-folder each")
    parser.add_argument("--count", type=int, default=8, help="how many lives (default 8)")
    parser.add_argument("--first", type=int, default=0, help="number of the first life (default 0)")
    parser.add_argument("--seed", type=int, default=1, help="seed of the batch (default 1)")
    parser.add_argument("--workers", type=int, default=1, help="processes (default 1)")
    parser.add_argument("--cache", type=Path, help="folder for column results (OUT/.cache)")
    return parser.parse_args(arguments)


def _numbers(options: argparse.Namespace) -> range:
    return range(options.first, options.first + options.count)


def _one(job: tuple[Path, Path, int, int]) -> str:
    out, cache, number, seed = job
    begun = time.monotonic()
    course = make_life(out, cache, number, seed, wished(number))
    return (
        f"{course.plan.name}: {course.end.litres:.0f} L, {course.end.seconds / 86400:.0f} days, "
        f"leakage {course.end.leakage:.3f} ({time.monotonic() - begun:.0f} s)\n"
    )


if __name__ == "__main__":
    raise SystemExit(main())
