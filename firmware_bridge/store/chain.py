"""The logbook's chain: what was written cannot be changed without every later digest changing.

    digest of an entry = SHA-256( digest of the entry before, then a line end, then its body )

The body is the JSON text as it is stored. Before the first entry stands nothing. The chain shows
that entries were changed, taken out or put in between, as long as one later digest is known outside
the file: every entry's digest goes to the sinks with it, and stands on paper.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

import msgspec

from analytics.samples import AnyEvent


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of the logbook: its number in the site, what it says as it is stored, its digest.

    `digest` is empty for entries from before there was a chain. `body` is empty where a name in it
    was erased: then its digest is taken as it is. `withdrawn_by` is the number of
    the entry that withdrew it; 0: it holds.
    """

    seq: int
    event: AnyEvent
    body: str
    digest: str = ""
    withdrawn_by: int = 0


class Chain(msgspec.Struct, frozen=True, kw_only=True):
    """What a check of the chain found: entries in it, its last digest, and the number of the first
    entry that does not fit what stands before it (0: all do)."""

    entries: int
    head: str
    broken_at: int = 0


def digest_of(before: str, body: str) -> str:
    """The digest of an entry that follows the one with the digest `before`."""
    return hashlib.sha256(f"{before}\n{body}".encode()).hexdigest()


def verify_chain(entries: Iterable[Entry]) -> Chain:
    """Check the chain over all entries of a site, in the order of their numbers."""
    head, count, last_seq = "", 0, 0
    for entry in entries:
        missing = bool(head) and not entry.digest
        if missing or entry.seq <= last_seq:
            return Chain(entries=count, head=head, broken_at=entry.seq)
        last_seq = entry.seq
        if not entry.digest:
            continue
        if entry.body and entry.digest != digest_of(head, entry.body):
            return Chain(entries=count, head=head, broken_at=entry.seq)
        head, count = entry.digest, count + 1
    return Chain(entries=count, head=head)
