"""What each kind of client may do at the broker, as roles of Mosquitto's dynamic-security plugin.

A site writes one and two levels below its own topic, except the receiver's words there, which are
all it reads. A worker reads every site and writes the receiver's words. The keeper speaks to the
plugin and to nobody else. What is not allowed here is forbidden, to read as well as to write. Rules
hold for every version of the payloads, so that logins outlive an upgrade.

A site's name stands percent-encoded in a topic, so it holds none of `+`, `#`, `/`: what looks like
a pattern in a rule is never a site's doing.

Each site has a role of its own: the plugin of Mosquitto 2.0 knows no stand-ins for a login.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

KEEPER, WORKER = "keeper", "worker"
OF_RECEIVER = ("durable", "wanted")
CONTROL = "$CONTROL/dynamic-security"
NOTHING = {
    "publishClientSend": False,
    "publishClientReceive": False,
    "subscribe": False,
    "unsubscribe": True,
}
"""What holds for a topic that no rule names; a client may always stop listening."""

Rule = dict[str, Any]


def site_rules(prefix: str, site: str) -> list[Rule]:
    """The rules of one site's role."""
    own = f"{prefix}/+/{quote(site, safe='')}"
    said = [f"{own}/{name}" for name in OF_RECEIVER]
    return [
        _rule("publishClientSend", f"{own}/+"),
        _rule("publishClientSend", f"{own}/+/+"),
        *(_rule("publishClientSend", name, allow=False, before=10) for name in said),
        *(_rule("publishClientReceive", name) for name in said),
        *(_rule("subscribePattern", name) for name in said),
    ]


def worker_rules(prefix: str) -> list[Rule]:
    """The rules of the ingest workers, shared subscriptions included."""
    every = f"{prefix}/+/#"
    return [
        *(_rule("publishClientSend", f"{prefix}/+/+/{name}") for name in OF_RECEIVER),
        _rule("publishClientReceive", every),
        _rule("subscribePattern", every),
        _rule("subscribePattern", f"$share/+/{every}"),
    ]


def keeper_rules() -> list[Rule]:
    """The rules of whoever makes and revokes identities."""
    return [
        _rule("publishClientSend", f"{CONTROL}/v1"),
        _rule("publishClientReceive", f"{CONTROL}/v1/response"),
        _rule("subscribeLiteral", f"{CONTROL}/v1/response"),
    ]


def role(name: str, rules: list[Rule]) -> dict[str, Any]:
    """A role as the plugin's file and commands have it."""
    return {"rolename": name, "acls": rules}


def _rule(act: str, where: str, *, allow: bool = True, before: int = 0) -> Rule:
    return {"acltype": act, "topic": where, "priority": before, "allow": allow}
