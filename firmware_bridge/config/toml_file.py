"""From a file to a plain table: everything that can be wrong before the first key is read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from firmware_bridge.config.fault import Fault

LARGEST = 1_000_000
DUPLICATE = re.compile(r"Cannot (overwrite a value|declare|mutate|redefine)|Duplicate")


def read_bytes(path: Path, what: str = "site file") -> bytes | Fault:
    """The file's bytes, or the fault that keeps it from being read."""
    try:
        if path.is_dir():
            return _fault(path, "this is a folder", f"Name the {what} in it.")
        if path.exists() and not path.is_file():
            return _fault(path, "this is not a file", f"Name a {what}.")
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        return _fault(path, "there is no such file", f"Name a {what}, or write one first.")
    except (OSError, ValueError) as exc:
        reason = getattr(exc, "strerror", None) or "the name is not possible"
        return _fault(path, f"it cannot be read ({reason})", "Check its owner and its rights.")
    if len(data) > LARGEST:
        return _fault(path, "it is larger than a megabyte", f"Name a {what}.")
    return data


def parse(
    data: bytes, file: str, sample: str = "lastlitre new SITE.toml"
) -> dict[str, Any] | Fault:
    """The file's tables, or the fault that keeps it from being understood.

    `sample` is the command that writes a file to start from.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        line = data[: exc.start].count(b"\n") + 1
        problem = f"line {line} holds a byte that is not UTF-8"
        return Fault(file=file, problem=problem, mend="Save the file as UTF-8 text.")
    if not text.strip():
        mend = f"Start from the commented sample: {sample}"
        return Fault(file=file, problem="the file is empty", mend=mend)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as exc:
        return _not_toml(exc, file)


def _not_toml(exc: Exception, file: str) -> Fault:
    """tomllib's words with what to do about them; never the line itself, it may hold a secret."""
    said = "tables nested too deep" if isinstance(exc, RecursionError) else str(exc)[:200]
    said = "".join(c if c.isprintable() else "?" for c in said)
    mend = 'Write key = "value", texts in straight quotes.'
    if DUPLICATE.search(said):
        mend = "The same key or table stands twice: remove one."
    elif "Invalid value" in said or "Expected newline" in said:
        mend = 'Put a value with a unit in quotes: capacity = "3600 dH*L".'
    return Fault(file=file, problem=f"not TOML: {said}", mend=mend)


def _fault(path: Path, problem: str, mend: str) -> Fault:
    return Fault(file=str(path), problem=problem, mend=mend)
