"""Texts of the service company's page of what cartridges really deliver."""

from __future__ import annotations

TEXTS = {
    "fleet.learnt": "Really delivered",
    "fleet.learnt-what": "What cartridges of each kind really deliver in each region; for the "
    "files of new sites.",
    "learnt.json": "All of it (JSON)",
    "learnt.none": "No cartridge has told yet what it really delivers: new sites begin with the "
    "rating.",
    "learnt.sentence.one": "One cartridge tells what is really delivered.",
    "learnt.sentence.many": "{n} cartridges tell what is really delivered.",
    "learnt.left-out.one": "One more says nothing that was not known before.",
    "learnt.left-out.many": "{n} more say nothing that was not known before.",
    "learnt.head.rated": "Rated",
    "learnt.head.share": "Delivers of it",
    "learnt.head.counts": "Cartridges",
    "learnt.counts": "{n}: {ended} to the end, {early} taken out before",
    "learnt.new-region": "any new region",
    "learnt.head.lines": "New site",
    "learnt.lines": "Its lines",
    "learnt.note": "A kind with few cartridges is drawn towards what all show. “Any new region” "
    "is one in which none has served yet. Nothing is sent to a site: put the two lines under "
    "[[line]] in the file of a new one, and its figures begin with them.",
}
