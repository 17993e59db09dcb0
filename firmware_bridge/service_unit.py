"""The unit by which systemd runs a site: started at boot, watched, in a box of its own."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from firmware_bridge.config import Site

USB_SERIAL = ("char-ttyUSB", "char-ttyACM")
PORT_KIND = re.compile(r"/dev/(ttyUSB|ttyACM|ttyAMA|ttyS|ttyO|ttymxc)\d+")
PRIVILEGED_PORTS = 1024
WATCHDOG_S = 120

UNIT = """\
[Unit]
Description=LastLitre: {name}
Documentation=man:systemd.exec(5)
After=network.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
User={user}
ExecStart={command}
# secrets that the site file names by a variable; root's own, mode 0600
EnvironmentFile=-/etc/lastlitre/{site_id}.env
WorkingDirectory={folder}
Restart=always
RestartSec=5
# after a long stop a year of draws may have to be worked over
TimeoutStartSec=15min
TimeoutStopSec=60
WatchdogSec={watchdog}

# what it may write: its record and its cache, nothing else
ProtectSystem=strict
ProtectHome={home}
ReadWritePaths={writes}
CacheDirectory=lastlitre
CacheDirectoryMode=0700
UMask=0077
PrivateTmp=yes
RemoveIPC=yes

# what it may touch
{devices}
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX AF_NETLINK
CapabilityBoundingSet={capabilities}
AmbientCapabilities={capabilities}
NoNewPrivileges=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
KeyringMode=private

# how much
MemoryHigh=256M
MemoryMax=384M
TasksMax=64
LimitNOFILE=1024

[Install]
WantedBy=multi-user.target
"""


def unit_text(site: Site, site_file: Path, user: str, program: Path | None = None) -> str:
    """The unit of a site. `program` is the `lastlitre` to run; left out, the one at work now."""
    folder = site_file.absolute().parent
    store = Path(site.wiring.store_path).absolute().parent
    program = program or Path(sys.executable).parent / "lastlitre"
    port = site.wiring.page.port
    return UNIT.format(
        name=_plain(site.setup.name),
        site_id=site.setup.site_id,
        user=user,
        command=f"{_quoted(program)} run {_quoted(site_file.absolute())}",
        folder=_plain(str(folder)),
        watchdog=WATCHDOG_S,
        home="read-only" if _in_a_home(folder, store, program) else "yes",
        writes=" ".join(_quoted(place) for place in _written(site, store)),
        devices="\n".join(_devices(site)),
        capabilities="CAP_NET_BIND_SERVICE" if 0 < port < PRIVILEGED_PORTS else "",
    )


def _written(site: Site, store: Path) -> list[Path]:
    people = site.wiring.page.people
    places = {store, Path(people).absolute().parent} if people else {store}
    return sorted(places)


def _devices(site: Site) -> list[str]:
    """Serial ports by their kind, so that a port plugged in later is allowed as well."""
    ports = [str(getattr(wired.options, "port", "")) for wired in site.wiring.meters]
    serial = [port for port in ports if port.startswith("/dev/")]
    if not serial:
        return ["PrivateDevices=yes"]
    kinds = sorted({kind for port in serial for kind in _kinds(port)})
    allowed = [f"DeviceAllow={kind} rw" for kind in kinds]
    return ["DevicePolicy=closed", *allowed, "SupplementaryGroups=dialout"]


def _kinds(port: str) -> tuple[str, ...]:
    found = PORT_KIND.fullmatch(port)
    return (f"char-{found[1]}",) if found else USB_SERIAL


def _in_a_home(*paths: Path) -> bool:
    homes = (Path("/home"), Path("/root"), Path("/run/user"))
    return any(path.is_relative_to(home) for path in paths for home in homes)


def _quoted(path: Path) -> str:
    return (
        '"' + _plain(str(path)).replace("\\", "\\\\").replace('"', '\\"').replace("$", "$$") + '"'
    )


def _plain(text: str) -> str:
    """Text in a unit: a per cent sign begins a specifier, a line ends an entry."""
    return text.replace("\n", " ").replace("%", "%%")
