"""How often a password may be tried: by one address, and by all together.

Kept in memory: a restart of the daemon forgets it, which nobody on the network can bring about. An
address that failed five times within a quarter of an hour waits a minute, then twice as long after
each further failure, a quarter of an hour at most. When all addresses together failed thirty times
in ten minutes, every address but this machine's own waits a minute after each failure.
"""

from __future__ import annotations

import ipaddress
from collections import OrderedDict, deque
from collections.abc import Callable

EACH, EACH_SPAN_S = 5, 900.0
ALL, ALL_SPAN_S = 30, 600.0
FIRST_WAIT_S, LONGEST_WAIT_S = 60.0, 900.0
MOST_ADDRESSES = 2000


class Patience:
    """Counts failed tries; `clock` gives seconds that only go forwards.

    Without `joint` only an address's own failures count: where what is tried cannot be guessed
    anyway, strangers who fail must not make others wait.
    """

    def __init__(self, clock: Callable[[], float], *, joint: bool = True) -> None:
        self._clock = clock
        self._joint = joint
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()
        self._all: deque[float] = deque(maxlen=ALL)

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
