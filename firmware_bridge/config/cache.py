"""The last compiled form of each site file, kept so that a restart need not compile again.

    sha256 of all that follows (32 bytes) | digest of what it was compiled from (32) | answer

What is stale, damaged or not ours is passed over and built anew; where nothing can be written,
every start compiles.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from functools import cache
from pathlib import Path

LARGEST = 16_000_000
SIZE = hashlib.sha256().digest_size
PARTS = ("config", "meters", "forward")


def folder() -> Path:
    """Where compiled forms lie: the service's cache, or the user's."""
    given = os.environ.get("CACHE_DIRECTORY", "").split(":")[0] or os.environ.get("XDG_CACHE_HOME")
    base = Path(given) if given else Path(os.path.expanduser("~")) / ".cache"
    return base / "lastlitre"


def digest_of(path: Path, data: bytes) -> bytes:
    """What a compiled form depends on: the file, its place, the program."""
    digest = hashlib.sha256(program())
    for part in (os.fsencode(path.absolute()), data):
        digest.update(len(part).to_bytes(8, "big") + part)
    return digest.digest()


@cache
def program() -> bytes:
    """What this version of the program is: a digest of the sources that compile a site file.

    The number of the release alone would miss a changed checkout.
    """
    here = Path(__file__).resolve().parents[1]
    digest = hashlib.sha256()
    sources = [f for part in PARTS for f in sorted((here / part).rglob("*.py"))]
    core = here.parent / "analytics"
    sources += [here / "units.py", core / "setup.py", core / "samples.py", core / "medium.py"]
    for source in [*sources, *sorted((core / "media").glob("*.py"))]:
        digest.update(source.read_bytes())
    return digest.digest()


def recall(where: Path, path: Path, digest: bytes) -> bytes | None:
    """The compiled form of this very file, if there is a sound one."""
    try:
        with _slot(where, path).open("rb") as file:
            whole = file.read(LARGEST)
    except OSError:
        return None
    check, body = whole[:SIZE], whole[SIZE:]
    if hashlib.sha256(body).digest() != check or body[:SIZE] != digest:
        return None
    return body[SIZE:]


def keep(where: Path, path: Path, digest: bytes, answer: bytes) -> None:
    """Keep a compiled form, whole or not at all; a folder that cannot be written is no fault."""
    body = digest + answer
    with contextlib.suppress(OSError):
        where.mkdir(mode=0o700, parents=True, exist_ok=True)
        half = where / f"{os.getpid()}.half"
        try:
            half.write_bytes(hashlib.sha256(body).digest() + body)
            half.replace(_slot(where, path))
        finally:
            half.unlink(missing_ok=True)


def _slot(where: Path, path: Path) -> Path:
    """One file a site file, so that the folder does not grow with every edit."""
    return where / (hashlib.sha256(os.fsencode(path.absolute())).hexdigest()[:32] + ".site")
