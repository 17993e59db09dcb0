"""The node's program as a folder whose content goes on a board.

DEST/main.py settings.py how-to-copy.txt on_a_computer.py
DEST/firmware_bridge/firmware/*.py        the very files that run here
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from analytics.errors import LastLitreError

OWN = "settings.py"
"""The user's own file: it is never written over."""

VIRTUAL = ("__init__.py", "board.py")
"""What the node on a computer needs beside the firmware."""


def write_firmware(folder: Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write the files; which ones were written.

    Raises LastLitreError when files are there already and not to be replaced, or when the folder
    cannot be written.
    """
    wanted = dict(_contents())
    there = [name for name in wanted if (folder / name).exists() and name != OWN]
    if there and not overwrite:
        raise LastLitreError(
            f"{folder / there[0]} is there already.",
            f"Give --overwrite to replace the program; {OWN} stays as it is.",
        )
    try:
        return tuple(_write(folder, wanted))
    except OSError as fault:
        place = fault.filename or folder
        raise LastLitreError(f"{place}: {fault.strerror}.", "Choose another place.") from fault


def _write(folder: Path, wanted: dict[str, Traversable]) -> Iterator[Path]:
    for name, content in wanted.items():
        path = folder / name
        if name == OWN and path.exists():
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.read_bytes())
        yield path


def _contents() -> Iterator[tuple[str, Traversable]]:
    """Every file with its place in the folder."""
    package = files("firmware_bridge")
    yield "firmware_bridge/__init__.py", package / "__init__.py"
    for name in VIRTUAL:
        yield f"firmware_bridge/virtual/{name}", package / "virtual" / name
    for file in sorted((package / "firmware").iterdir(), key=lambda file: file.name):
        if file.name.endswith(".py"):
            yield f"firmware_bridge/firmware/{file.name}", file
    for file in sorted((package / "firmware" / "board").iterdir(), key=lambda file: file.name):
        if file.is_file():
            yield file.name, file
