"""The pages of one site as links that stand below the contents."""

from __future__ import annotations

import msgspec

from dashboards.fleet.asked import Asked
from dashboards.fleet.roles import may

PAGES = (
    ("now", "page.title"),
    ("history", "history.title"),
    ("alarms", "alarms.page"),
    ("paper", "paper.title"),
    ("about", "fleet.about"),
)
"""Addresses below a site, with their titles."""


class Link(msgspec.Struct, frozen=True, kw_only=True):
    """A link with its words."""

    href: str
    words: str
    here: bool = False


def within(asked: Asked, here: str) -> tuple[Link, ...]:
    """The pages of the site that whoever asks may see."""
    return tuple(
        Link(href=f"/site/{asked.here.site_no}/{name}", words=asked.say(title), here=name == here)
        for name, title in PAGES
        if may(asked.visit.role, f"/site/{{site_no:int}}/{name}")
    )
