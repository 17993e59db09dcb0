"""A folder for Mosquitto: its settings, who may do what from the start, two secrets.

mosquitto.conf           settings; written anew each time
dynamic-security.json    logins and roles; the running broker writes it, so it is made once
keeper.secret            the login `keeper`: makes and revokes sites' logins
worker.secret            the login `worker`: reads the sites, writes the receiver's words
data/                    what the broker keeps over a restart
"""

from __future__ import annotations

import base64
import getpass
import hashlib
import os
import secrets
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import msgspec

from analytics.errors import LastLitreError
from firmware_bridge.fleet.identity.keeper import Login
from firmware_bridge.fleet.identity.rules import (
    KEEPER,
    NOTHING,
    WORKER,
    Rule,
    keeper_rules,
    role,
    site_rules,
    worker_rules,
)

PLUGIN = "mosquitto_dynamic_security.so"
PLACES = ("/usr/lib/*", "/usr/lib", "/usr/lib64", "/usr/local/lib")
OF_BROKER = ("data", "mosquitto.conf", "dynamic-security.json")
"""What belongs to the user the broker runs as; the secrets are for whoever runs the fleet."""
ROUNDS = 101
"""PBKDF2 rounds, Mosquitto's own number. The secrets are 256 bits by chance: more rounds make
nothing harder to guess, and a storm of reconnecting sites dearer."""


class BrokerPlan(msgspec.Struct, frozen=True, kw_only=True):
    """What the broker is to be: ports (0: none), keys for its TLS listener, whom it runs as."""

    prefix: str = "lastlitre"
    local_port: int = 1883
    tls_port: int = 8883
    cert_file: str = ""
    key_file: str = ""
    run_as: str = ""
    plugin: str = ""


def write_broker(folder: Path, plan: BrokerPlan, known: Iterable[Login] = ()) -> bool:
    """Write the folder; `known` are logins that are there from the start.

    Whether the logins were made; where there are some, they are left as they are.
    Raises LastLitreError where the plugin is not on this machine or the folder cannot be written.
    """
    settings = _settings(folder.resolve(), plan)
    try:
        made = _write(folder, settings, plan.prefix, known)
        if plan.run_as and os.geteuid() == 0:
            for path in (folder, *(folder / name for name in OF_BROKER)):
                shutil.chown(path, plan.run_as)
    except LookupError as exc:
        raise LastLitreError(
            f"There is no user {plan.run_as!r} here.", "Name the user the broker runs as."
        ) from exc
    except OSError as exc:
        raise LastLitreError(
            f"{folder} cannot be written ({exc.strerror})", "Choose another folder."
        ) from exc
    return made


def _write(folder: Path, settings: str, prefix: str, known: Iterable[Login]) -> bool:
    folder.mkdir(mode=0o711, parents=True, exist_ok=True)
    (folder / "data").mkdir(mode=0o700, exist_ok=True)
    (folder / "mosquitto.conf").write_text(settings, encoding="utf-8")
    if (folder / "dynamic-security.json").exists():
        return False
    held = {name: secrets.token_urlsafe(32) for name in (KEEPER, WORKER)}
    for name, secret in held.items():
        _closed(folder / f"{name}.secret", f"{secret}\n".encode())
    access = msgspec.json.encode(_access(prefix, held, known))
    _closed(folder / "dynamic-security.json", msgspec.json.format(access))
    return True


def plugin_path() -> str:
    """Where Mosquitto's plugin lies on this machine; raises LastLitreError where it does not."""
    for place in PLACES:
        for found in sorted(Path("/").glob(f"{place.lstrip('/')}/{PLUGIN}")):
            return str(found)
    raise LastLitreError(
        f"{PLUGIN} is not on this machine.",
        "Install Mosquitto 2 here, or name the file where it will be: --plugin PATH",
    )


def _access(prefix: str, held: dict[str, str], known: Iterable[Login]) -> dict[str, Any]:
    """The plugin's file."""
    clients = [_client(name, secret) for name, secret in held.items()]
    roles: list[tuple[str, list[Rule]]] = [
        (KEEPER, keeper_rules()),
        (WORKER, worker_rules(prefix)),
    ]
    for found in known:
        clients.append(_client(found.login, found.secret) | {"clientid": found.login})
        roles.append((found.login, site_rules(prefix, found.site)))
    return {
        "clients": clients,
        "roles": [role(name, rules) for name, rules in roles],
        "defaultACLAccess": NOTHING,
    }


def _client(name: str, secret: str) -> dict[str, Any]:
    salt = os.urandom(12)
    key = hashlib.pbkdf2_hmac("sha512", secret.encode(), salt, ROUNDS)
    return {
        "username": name,
        "password": base64.b64encode(key).decode(),
        "salt": base64.b64encode(salt).decode(),
        "iterations": ROUNDS,
        "roles": [{"rolename": name}],
    }


def _closed(path: Path, data: bytes) -> None:
    """A file only its owner opens, from its first byte on."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)


def _settings(folder: Path, plan: BrokerPlan) -> str:
    return "\n".join(
        [
            *_general(folder, plan),
            "",
            "# workers and console on this machine",
            f"{'' if plan.local_port else '# '}listener {plan.local_port or 1883} 127.0.0.1",
            "",
            *_tls(plan),
            "",
        ]
    )


def _general(folder: Path, plan: BrokerPlan) -> list[str]:
    return [
        "# Written by lastlitre fleet broker. Start: mosquitto -c "
        + str(folder / "mosquitto.conf"),
        f"user {plan.run_as or getpass.getuser()}",
        "per_listener_settings false",
        "allow_anonymous false",
        f"plugin {plan.plugin or plugin_path()}",
        f"plugin_opt_config_file {folder / 'dynamic-security.json'}",
        "",
        "# what a restart must not forget: cards, the receiver's words, the workers' queues",
        "persistence true",
        f"persistence_location {folder / 'data'}/",
        "autosave_interval 60",
        "persistent_client_expiration 7d",
        "",
        "# one parcel of 60 rows is about 20 kB; the workers read up to a million bytes",
        "max_packet_size 1100000",
        "# a worker that is away: what no longer fits is sent again by the sites",
        "max_queued_messages 20000",
        "max_queued_bytes 200000000",
        "max_inflight_messages 200",
        "max_keepalive 300",
        "set_tcp_nodelay true",
        "log_type error",
        "log_type warning",
        "log_type notice",
        "connection_messages false",
    ]


def _tls(plan: BrokerPlan) -> list[str]:
    """The listener for sites: switched off until there are keys for it."""
    keyed = bool(plan.cert_file and plan.key_file and plan.tls_port)
    off = "" if keyed else "# "
    return [
        "# sites: always TLS. The certificate names the host that sites are told; Mosquitto reads",
        "# it anew on SIGHUP. Sites check it against their machine's authorities, or against the",
        "# authority that the fleet file names for them.",
        f"{off}listener {plan.tls_port or 8883}",
        f"{off}certfile {plan.cert_file or '/etc/mosquitto/certs/fleet.pem'}",
        f"{off}keyfile {plan.key_file or '/etc/mosquitto/certs/fleet.key'}",
        f"{off}tls_version tlsv1.2",
    ]
