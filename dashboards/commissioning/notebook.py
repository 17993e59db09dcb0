"""The file that the pages of all lines are kept in, beside the site's own."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec
import structlog

from analytics.errors import StoreError
from dashboards.commissioning.progress import Progress, begun

log = structlog.get_logger(__name__)


class Notebook:
    """Pages by line. A page is whole on the disk before it is shown; a broken file is set aside."""

    def __init__(self, store_path: Path) -> None:
        self._path = store_path.with_name(store_path.name + ".fitting")

    def page(self, line_id: str, now_ms: int) -> Progress:
        """How far this line is. Raises StoreError where the file cannot be read."""
        return self._read().get(line_id) or begun(line_id, now_ms)

    def has(self, line_id: str) -> bool:
        """Whether this line was ever begun. Raises StoreError."""
        return line_id in self._read()

    def keep(self, page: Progress) -> None:
        """Write it down, durable once this returns. Raises StoreError."""
        pages = self._read() | {page.line_id: page}
        half = self._path.with_name(self._path.name + ".half")
        try:
            with half.open("wb") as out:
                out.write(msgspec.json.format(msgspec.json.encode(pages)))
                out.flush()
                os.fsync(out.fileno())
            os.replace(half, self._path)
            folder = os.open(self._path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
        except OSError as fault:
            raise _unusable(self._path, fault) from fault

    def _read(self) -> dict[str, Progress]:
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=dict[str, Progress])
        except FileNotFoundError:
            return {}
        except OSError as fault:
            raise _unusable(self._path, fault) from fault
        except msgspec.MsgspecError as fault:
            aside = self._path.with_name(self._path.name + ".broken")
            os.replace(self._path, aside)
            log.warning("fitting.set-aside", file=str(aside), reason=str(fault))
            return {}


def _unusable(path: Path, fault: OSError) -> StoreError:
    return StoreError(f"{path}: {fault.strerror}", "Give the site's folder back to its own user.")
