"""What the lines that one node feeds have on the disk: the node may forget what all have."""

from __future__ import annotations


class Agreement:
    """Up to which row of each boot every line has what the node sent."""

    def __init__(self) -> None:
        self._lines: set[str] = set()
        self._durable: dict[int, dict[str, int]] = {}

    def take_part(self, line_id: str) -> None:
        """From here on nothing is forgotten that this line does not have."""
        self._lines.add(line_id)

    def note(self, line_id: str, boot: int, seq: int) -> None:
        """A line has every row of the boot up to `seq` on the disk."""
        mine = self._durable.setdefault(boot, {})
        mine[line_id] = max(seq, mine.get(line_id, 0))

    def forget(self, line_id: str, boot: int) -> None:
        """A line deals with this boot no more."""
        mine = self._durable.get(boot, {})
        mine.pop(line_id, None)
        if not mine:
            self._durable.pop(boot, None)

    def up_to(self, boot: int) -> int:
        """The last row of the boot that all lines have; 0 where one has none yet."""
        mine = self._durable.get(boot, {})
        return min((mine.get(line_id, 0) for line_id in self._lines), default=0)
