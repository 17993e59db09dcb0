"""How often a password may be tried: by one address, and by all together.

Kept in a file closed to others, so that a restart forgets nothing. An address that failed five
times within a quarter of an hour waits a minute, then twice as long after each further failure, a
quarter of an hour at most. When all addresses together failed thirty times in ten minutes, every
address but this machine's own waits a minute after each failure.
"""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from pathlib import Path

import msgspec
import structlog

from analytics.errors import LastLitreError
from dashboards.access.closed_file import read_closed, write_closed

EACH, EACH_SPAN_S = 5, 900.0
ALL, ALL_SPAN_S = 30, 600.0
FIRST_WAIT_S, LONGEST_WAIT_S = 60.0, 900.0
MOST_ADDRESSES = 2000
MOST_KEPT = 500
"""Addresses that stand in the file, the newest."""

log = structlog.get_logger(__name__)


class _Kept(msgspec.Struct, frozen=True, kw_only=True):
    """Failures by address and of all, in seconds before `wall_s`."""

    wall_s: float
    each: dict[str, list[float]]
    all: list[float]


class Patience:
    """Counts failed tries; `clock` gives seconds that only go forwards.

    Without `joint` only an address's own failures count: where what is tried cannot be guessed
    anyway, strangers who fail must not make others wait. With a `path` failures outlive the
    process: `wall_s` tells how long it was away.
    """

    def __init__(
        self,
        clock: Callable[[], float],
        path: Path | None = None,
        wall_s: Callable[[], float] = time.time,
        *,
        joint: bool = True,
    ) -> None:
        self._clock = clock
        self._joint = joint
        self._path = path
        self._wall_s = wall_s
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()
        self._all: deque[float] = deque(maxlen=ALL)
        self._remember()

    def keep(self) -> None:
        """Write the file. Where there is no room for it, signing in goes on without."""
        if self._path is None:
            return
        now = self._clock()
        newest = list(self._failed.items())[-MOST_KEPT:]
        kept = _Kept(
            wall_s=self._wall_s(),
            each={block: [now - at for at in tries] for block, tries in newest},
            all=[now - at for at in self._all],
        )
        try:
            write_closed(self._path, msgspec.json.encode(kept))
        except LastLitreError as fault:
            log.warning("access.not-kept", error=str(fault), hint=fault.hint)

    def _remember(self) -> None:
        """Failures of before; a clock that went back in between lets nobody in sooner."""
        kept = _read(self._path)
        if kept is None:
            return
        began = self._clock() - max(self._wall_s() - kept.wall_s, 0.0)
        for block, ages in kept.each.items():
            self._failed[block] = deque((began - age for age in ages), maxlen=EACH + 10)
        self._all.extend(began - age for age in kept.all)

    def wait_s(self, address: str) -> float:
        """Seconds this address has to wait before the next try; 0: it may try now."""
        now = self._clock()
        return max(self._own_wait_s(_block(address), now), self._joint_wait_s(address, now), 0.0)

    def trying(self, *sources: str) -> None:
        """A try begins; it counts as failed until `passed`, so that many at once gain nothing.

        It counts against every one of its sources: an address, and perhaps a name.
        """
        now = self._clock()
        for block in map(_block, sources):
            tries = self._failed.setdefault(block, deque(maxlen=EACH + 10))
            tries.append(now)
            self._failed.move_to_end(block)
        while len(self._failed) > MOST_ADDRESSES:
            self._failed.popitem(last=False)
        self._all.append(now)

    def passed(self, *sources: str) -> None:
        """The try was right: its sources begin anew."""
        for block in map(_block, sources):
            self._failed.pop(block, None)
        if self._all:
            self._all.pop()

    def _own_wait_s(self, block: str, now: float) -> float:
        tries = self._failed.get(block, deque())
        recent = sum(now - at < EACH_SPAN_S for at in tries)
        if recent < EACH:
            return 0.0
        wait_s = min(FIRST_WAIT_S * 2.0 ** (recent - EACH), LONGEST_WAIT_S)
        return tries[-1] + wait_s - now

    def _joint_wait_s(self, address: str, now: float) -> float:
        full = len(self._all) == ALL and now - self._all[0] < ALL_SPAN_S
        if not full or not self._joint or is_loopback(address):
            return 0.0
        return self._all[-1] + FIRST_WAIT_S - now


def _read(path: Path | None) -> _Kept | None:
    """What was kept; a file that is damaged or open to others is none."""
    try:
        data = None if path is None else read_closed(path)
        return None if data is None else msgspec.json.decode(data, type=_Kept)
    except (LastLitreError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return None


def is_loopback(address: str) -> bool:
    """Whether an address is this machine's own."""
    try:
        return ipaddress.ip_address(address.strip("[]").split("%")[0]).is_loopback
    except ValueError:
        return False


def _block(address: str) -> str:
    """What counts as one address: an IPv4 address, or a whole IPv6 network of /64."""
    try:
        found = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
