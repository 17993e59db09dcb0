"""The signs, as SVG text: glass, drops, letter plates, beads. A sign never stands without its word.

Each carries its meaning in its shape; the colour, given by the stylesheet, only helps.
"""

from __future__ import annotations

from markupsafe import Markup

BOWL = "M5 4H35L30 44H10Z"
DROP = "M9 1C12.4 6.6 16 10.6 16 15.2A7 7 0 0 1 2 15.2C2 10.6 5.6 6.6 9 1Z"

_GLASS = {
    "right": f'<path class="line" d="{BOWL}"/><path class="fill" d="M8.6 10.5H31.4L28 41H12Z"/>',
    "due": (
        f'<path class="line" d="{BOWL}"/><path class="fill" d="M10.7 30H29.3L28 41H12Z"/>'
        '<path class="line" d="M1 30H39"/>'
    ),
    "act": '<path class="fill" d="M10 3H30L35 43H5Z"/><path class="line" d="M0 45H40"/>',
    "hard": (
        f'<path class="line" d="{BOWL}"/><path class="fill" d="M8.6 10.5H31.4L28 41H12Z"/>'
        '<path class="line" d="M1 4H39"/><path class="bar" d="M20 15V36"/>'
    ),
    "doubt": (
        f'<path class="line broken" d="{BOWL}"/><text x="20" y="32" text-anchor="middle">?</text>'
    ),
    "silent": f'<path class="line" d="{BOWL}"/><path class="line" d="M13.5 36L26.5 13"/>',
}
GLASS_STATES = tuple(_GLASS)
PRIORITY_DROPS = {"high": 3, "medium": 2, "low": 1}
DROP_STATES = ("raised", "acknowledged", "cleared", "shelved")


def glass(state: str, height: int) -> Markup:
    """The state of the water; `state` is right, due, act, hard, doubt (or unknown), silent."""
    shape = "doubt" if state == "unknown" else state
    width = round(height * 40 / 48)
    return Markup(
        f'<svg class="glass {shape}" width="{width}" height="{height}" viewBox="0 0 40 48" '
        f'aria-hidden="true">{_GLASS[shape]}</svg>'
    )


def drops(priority: str, change: str) -> Markup:
    """An alarm: as many drops as its priority, outlined by its state (ISA-18.2 states)."""
    count = PRIORITY_DROPS.get(priority, 1)
    state = change if change in DROP_STATES else "raised"
    shapes = "".join(f'<path transform="translate({n * 19})" d="{DROP}"/>' for n in range(count))
    width = 19 * count
    shelf = f'<path d="M0 26H{width}"/>' if state == "shelved" else ""
    return Markup(
        f'<svg class="drops {state}" width="{width}" height="27" viewBox="-0.5 0 {width} 27" '
        f'aria-hidden="true">{shapes}{shelf}</svg>'
    )


def plate(letter: str) -> Markup:
    """Health of a device by its letter: F, C, S or M (NAMUR NE 107)."""
    if letter not in ("F", "C", "S", "M"):
        raise ValueError(f"No letter plate {letter!r}: use F, C, S or M.")
    return Markup(f'<span class="plate plate-{letter.lower()}" aria-hidden="true">{letter}</span>')


def check_bead(result: str) -> Markup:
    """A check: "pass", "not-yet" or "outside"."""
    inner = {
        "pass": '<circle class="pass" cx="11" cy="11" r="10"/>',
        "not-yet": '<circle class="not-yet" cx="11" cy="11" r="9"/>',
        "outside": '<circle class="outside" cx="11" cy="11" r="9"/><path class="outside" '
        'd="M11 4V18"/>',
    }[result]
    return Markup(
        f'<svg class="check" width="22" height="22" viewBox="0 0 22 22" aria-hidden="true">'
        f"{inner}</svg>"
    )
