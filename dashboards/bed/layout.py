"""Where things stand in the two sizes of the bed profile, in pixels; text is not scaled."""

from __future__ import annotations

import msgspec

from dashboards.bed.beads import BED_HEIGHT, BED_WIDTH, HEEL_ROWS, PITCH_Y

BED_HEEL = BED_HEIGHT + HEEL_ROWS * PITCH_Y
CHANNEL_LEAST, CHANNEL_MOST = 6.0, 110.0
GAP = 8


class Size(msgspec.Struct, frozen=True, kw_only=True):
    """One size: the whole drawing, the bed's scale, and the text's steps."""

    name: str
    width: int
    height: int
    scale: float
    strip: int
    """Top of the strip of raw water."""
    big: int
    """Size of the largest text."""
    line: int = 18
    label_gap: int
    dates_above: bool

    @property
    def top(self) -> float:
        """Top of the first row of beads."""
        return self.strip + 16.0

    @property
    def end(self) -> float:
        """Height of the end line."""
        return self.top + BED_HEIGHT * self.scale

    @property
    def foot(self) -> float:
        """Height of the foot of the bed."""
        return self.top + BED_HEEL * self.scale + 5

    def at(self, used_share: float) -> float:
        """Height of a used share in the bed, not below the heel."""
        inside = min(max(used_share, 0.0), BED_HEEL / BED_HEIGHT)
        return self.top + BED_HEIGHT * self.scale * inside

    def note(self, number: int) -> float:
        """Height of a note in pencil under the words of the outlet."""
        return self.foot + 55 + self.line * number

    def channel_width(self, share: float) -> float:
        """Width of the bypass channel: to the bed as share to the rest, within bounds."""
        shown = self.scale / 1.2
        wanted = BED_WIDTH * self.scale * share / max(1 - share, 0.01)
        return round(min(max(wanted, CHANNEL_LEAST), CHANNEL_MOST * shown), 1)

    def is_cut(self, share: float) -> bool:
        """Whether the channel is wider than there is room for."""
        wanted = BED_WIDTH * self.scale * share / max(1 - share, 0.01)
        return wanted > CHANNEL_MOST * self.scale / 1.2


WIDE = Size(
    name="wide",
    width=492,
    height=668,
    scale=1.2,
    strip=34,
    big=26,
    label_gap=32,
    dates_above=True,
)
PHONE = Size(
    name="phone",
    width=358,
    height=500,
    scale=0.84,
    strip=30,
    big=22,
    label_gap=24,
    dates_above=False,
)


class Frame(msgspec.Struct, frozen=True, kw_only=True):
    """The upright lines of one drawing: channel, left wall, beads, right wall, words."""

    channel: float
    left: float
    beads: float
    right: float
    words: float


def frame_of(size: Size, channel: float) -> Frame:
    """The uprights for a channel of this width (0: none)."""
    left = channel + 14
    beads = left + 4
    right = beads + BED_WIDTH * size.scale + 4
    return Frame(channel=channel, left=left, beads=beads, right=right, words=right + size.label_gap)


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """Tops of the blocks of words; None where there is no room for one."""

    front: float
    spent: float | None
    fresh: float | None


def front_height(size: Size) -> float:
    """Height of the block of three lines about the front."""
    return size.line + size.big + size.line + 4.0


def place(size: Size, used: float, spent_lines: int, fresh_lines: int) -> Column:
    """Place the words: the front at its height, the others pushed away from it, never over it."""
    bottom = size.end - (46 if size.dates_above else 16)
    tall = front_height(size)
    front = min(max(size.at(used) - tall / 2, size.top), bottom - tall)
    spent_tall, fresh_tall = (size.line * n + 4.0 for n in (spent_lines, fresh_lines))
    if 1 - used < 0.15:
        fresh_top = front - GAP - fresh_tall
        return Column(front=front, spent=None, fresh=fresh_top)
    room_above = front - GAP - size.top
    spent = size.top + min(20.0, room_above - spent_tall) if room_above >= spent_tall else None
    lowest = bottom - fresh_tall
    under = front + tall + GAP
    middle = (size.at(used) + size.end) / 2 - fresh_tall / 2
    fresh = min(max(middle, under), lowest) if lowest >= under else None
    return Column(front=front, spent=spent, fresh=fresh)
