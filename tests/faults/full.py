"""The disk is full under the running daemon: a small file system of memory, filled by another."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from tests.end_to_end.commands import Program, running
from tests.faults.fast_node import FastNode
from tests.faults.killed import SITE, in_file
from tests.peers import eventually
from tests.stream_faults import Outcome

SIZE = "24m"
PAGE = "[page]\nport = 0\n"


def may_mount(folder: Path) -> bool:
    """Whether this user may make a file system of his own."""
    folder.mkdir(parents=True)
    done = _mounted(folder)
    if done:
        subprocess.run(["umount", str(folder)], check=True)
    return done


def disk_full(folder: Path, times: int) -> Outcome:
    """Full, the page looked at, room again, so often; then the node's rows against the file's."""
    folder.mkdir(parents=True)
    with _small_disk(folder / "disk") as disk:
        node = FastNode(folder / "tty", every_s=0.02)
        path = folder / "site.toml"
        store = f'[store]\npath = "{disk}/harbour-steps.sqlite"\n'
        path.write_text(SITE.format(port=node.pair.port) + PAGE + store)
        slowest = 0.0
        try:
            with running("run", str(path)) as program:
                page = program.page()
                for _ in range(times):
                    slowest = max(slowest, _filled_once(disk, node, program, page))
                node.quiet()
                eventually("the rest", lambda: node.confirmed == node.made, 120)
                program.stop()
            safe = node.confirmed
        finally:
            node.close()
        numbers, rows = in_file(disk / "harbour-steps.sqlite")
    return Outcome(
        fault="disk full under the daemon, page looked at", times=times, rows=safe,
        lost=len(set(range(1, safe + 1)) - set(rows)),
        doubled=len(numbers) - len(set(numbers)) + len(rows) - len(set(rows)),
        recover_s=slowest, repeated=0,
    )  # fmt: skip


def _filled_once(disk: Path, node: FastNode, program: Program, page: str) -> float:
    """Fill the disk until the daemon says that rows wait; seconds from room to rows being safe."""
    before = node.confirmed
    eventually("rows", lambda: node.confirmed > before, 60)
    filler = disk / "filler"
    told = program.text.count("store.waiting")

    def full() -> bool:
        _fill(filler)
        return program.text.count("store.waiting") > told

    eventually(f"a full disk: {program.text[-2000:]}", full, 90)
    answer = httpx.get(page, timeout=20.0)
    assert answer.status_code == 200, answer.status_code
    safe = node.confirmed
    filler.unlink()
    began = time.monotonic()
    eventually("rows after that", lambda: node.confirmed > safe, 90)
    return time.monotonic() - began


def _fill(filler: Path) -> None:
    """Write until nothing more fits."""
    with filler.open("ab", buffering=0) as file:
        for size in (1 << 20, 1 << 16, 1 << 12):
            try:
                while True:
                    file.write(os.urandom(size))
            except OSError:
                continue


@contextmanager
def _small_disk(folder: Path) -> Iterator[Path]:
    folder.mkdir()
    if not _mounted(folder):
        raise PermissionError("this user may not mount a file system")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def _mounted(folder: Path) -> bool:
    command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)]
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False
