"""Who may do what: the one table from which every address of the fleet's pages is made.

An address that is not here does not exist, and a role that is not named with it is refused.
"""

from __future__ import annotations

import msgspec

OWNER, DISPATCHER, TECHNICIAN, CUSTOMER = "owner", "dispatcher", "technician", "customer"
ROLES = (OWNER, DISPATCHER, TECHNICIAN, CUSTOMER)

HEAD = frozenset({OWNER})
OFFICE = frozenset({OWNER, DISPATCHER})
STAFF = frozenset({OWNER, DISPATCHER, TECHNICIAN})
ALL = frozenset(ROLES)
WITH_HOOKS = frozenset({OWNER, CUSTOMER})
ANYBODY = frozenset({"", *ROLES})
"""Signed in or not."""


class Way(msgspec.Struct, frozen=True, kw_only=True):
    """One address with its method and the roles that may use it. What it is about a site or a
    stop is looked up within what the person may see, before anything else."""

    method: str
    path: str
    who: frozenset[str]

    def may(self, role: str) -> bool:
        """Whether this role may use it; "" is nobody signed in."""
        return role in self.who


def _see(path: str, who: frozenset[str]) -> Way:
    return Way(method="GET", path=path, who=who)


def _do(path: str, who: frozenset[str]) -> Way:
    return Way(method="POST", path=path, who=who)


WAYS = (
    _see("/", ALL),
    _see("/sign-in", ANYBODY),
    _do("/sign-in", ANYBODY),
    _do("/sign-out", ANYBODY),
    _see("/invited", ANYBODY),
    _do("/invited", ANYBODY),
    _see("/static/{name}", ANYBODY),
    # the work
    _see("/due", STAFF),
    _see("/due.csv", STAFF),
    _see("/round", STAFF),
    _see("/round.ics", STAFF),
    _see("/round.pdf", STAFF),
    _do("/round", OFFICE),
    _do("/visit/{visit_no:int}", STAFF),
    _see("/parts", STAFF),
    _see("/parts.csv", STAFF),
    _see("/learnt", STAFF),
    _see("/learnt.csv", STAFF),
    _see("/learnt.json", STAFF),
    _see("/doubt", STAFF),
    # the sites
    _see("/sites", ALL),
    _see("/sites.csv", ALL),
    _see("/site/{site_no:int}", ALL),
    _see("/site/{site_no:int}/now", ALL),
    _see("/site/{site_no:int}/history", ALL),
    _see("/site/{site_no:int}/history/figures.json", ALL),
    _see("/site/{site_no:int}/history/table.csv", ALL),
    _see("/site/{site_no:int}/alarms", ALL),
    _see("/site/{site_no:int}/paper", ALL),
    _see("/site/{site_no:int}/paper/get", ALL),
    _see("/site/{site_no:int}/about", STAFF),
    _do("/site/{site_no:int}/about", OFFICE),
    _do("/site/{site_no:int}/adopt", OFFICE),
    _do("/site/{site_no:int}/retire", OFFICE),
    _do("/site/{site_no:int}/code", OFFICE),
    _do("/site/{site_no:int}/revoke", OFFICE),
    _do("/site/{site_no:int}/box/take", OFFICE),
    _do("/site/{site_no:int}/box/keep", OFFICE),
    _do("/site/{site_no:int}/erase-name", HEAD),
    # the house
    _see("/more", ALL),
    _see("/password", ALL),
    _do("/password", ALL),
    _see("/hooks", WITH_HOOKS),
    _do("/hooks", WITH_HOOKS),
    _do("/hooks/{hook_no:int}/end", WITH_HOOKS),
    _see("/tokens", ALL),
    _do("/tokens", ALL),
    _do("/tokens/{token_no:int}/end", ALL),
    _see("/people", HEAD),
    _do("/people", HEAD),
    _do("/people/{person_no:int}/role", HEAD),
    _do("/people/{person_no:int}/code", HEAD),
    _do("/people/{person_no:int}/end", HEAD),
    _do("/people/{person_no:int}/erase", HEAD),
    _see("/guide", HEAD),
    _see("/guide/wiring", STAFF),
    _see("/audit", HEAD),
    _see("/audit.csv", HEAD),
)


def may(role: str, path: str, method: str = "GET") -> bool:
    """Whether a role may use an address as it stands in the table."""
    return any(way.may(role) for way in WAYS if (way.path, way.method) == (path, method))
