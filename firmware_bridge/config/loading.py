"""A site file to a `Site`, without pint in this process."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec

from analytics.errors import ConfigError
from firmware_bridge.config import cache, toml_file
from firmware_bridge.config.fault import Fault
from firmware_bridge.config.packed import unpack
from firmware_bridge.config.wiring import Site

LONGEST_S = 120


def load(path: Path | str, cache_folder: Path | None = None) -> Site:
    """The site of a file, compiled now or before. Waits for a child process, so not on a loop.

    Raises ConfigError with every fault of the file.
    """
    path = Path(path)
    data = toml_file.read_bytes(path)
    if isinstance(data, Fault):
        raise error_of([data], path)
    where = cache.folder() if cache_folder is None else cache_folder
    digest = cache.digest_of(path, data)
    kept = cache.recall(where, path, digest)
    site = _sound(kept) if kept is not None else None
    if site is not None:
        return site
    answer = _compile(path, data)
    found = unpack(answer)
    if not isinstance(found, Site):
        raise error_of(found, path)
    cache.keep(where, path, digest, answer)
    return found


def error_of(faults: Sequence[Fault], path: Path, hint: str = "") -> ConfigError:
    """All faults as one error."""
    return ConfigError(
        [str(fault) for fault in faults], hint or f"Mend the file, then try: lastlitre check {path}"
    )


def _sound(answer: bytes) -> Site | None:
    """The site in a kept answer; None where it is of another form than today's."""
    try:
        found = unpack(answer)
    except msgspec.MsgspecError:
        return None
    return found if isinstance(found, Site) else None


def _compile(path: Path, data: bytes) -> bytes:
    command = [sys.executable, "-m", "firmware_bridge.config.compile", str(path)]
    try:
        child = subprocess.run(
            command, input=data, capture_output=True, timeout=LONGEST_S, check=True
        )
    except subprocess.TimeoutExpired as exc:
        problem = f"{path}: compiling it took longer than {LONGEST_S} s"
        raise ConfigError([problem], "Is the machine busy? Try again.") from exc
    except subprocess.CalledProcessError as exc:
        last = exc.stderr.decode(errors="replace").strip().splitlines()[-1:]
        problem = f"{path}: the compiler stopped with {exc.returncode}: {' '.join(last)}"
        raise ConfigError([problem], "This is a fault of the program, not of the file.") from exc
    return child.stdout
