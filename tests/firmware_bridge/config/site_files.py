"""Site files for the tests of this folder."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from firmware_bridge.config.build import compile_bytes
from firmware_bridge.config.fault import Fault
from firmware_bridge.config.wiring import Site

NOW = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)

GOOD = """
[site]
id = "harbour-steps"
name = "Harbour Steps"
what = "café"
service = "Northgate Water Care"
time_zone = "Europe/Berlin"

[site.opening]
monday = "07:00-18:30"
friday = "18:00-02:00"
sunday = "closed"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"
time_limit = "12 month"
carbon = "10000 L"
bypass = "30 %"
probes = ["outlet", "inlet"]
k_factor = "1380 pulse/L"
rated_flow = "2 L/min"
machines = ["two-group espresso machine"]

[line.limits]
outlet_hardness_high = "8 dH"
litres_low = "200 L"
days_low = "2 week"
data_gap = "10 min"

[[meter]]
driver = "node-serial"
id = "node"
port = "/dev/ttyUSB0"
baud = 57600
outlet_cell_constant = "0.98 1/cm"

[[sink]]
kind = "mqtt"
host = "broker.lan"
tls = true
password_env = "BAR_PASSWORD"

[[sink]]
kind = "line-protocol"
url = "http://127.0.0.1:8428"
token_env = "BAR_TOKEN"

[page]
port = 0

[store]
path = "records/bar.sqlite"

[[dated]]
kind = "cartridge-fitted"
at = 2026-02-02T09:00:00
litres_before = "new"

[[dated]]
kind = "drop-test"
at = 2026-02-02T08:30:00Z
point = "raw"
hardness = "18 dH"
alkalinity = "16 dH"
"""


def compiled(text: str | bytes, folder: str = "/srv/site") -> Site | list[Fault]:
    """What a site file in a folder amounts to."""
    data = text if isinstance(text, bytes) else text.encode()
    return compile_bytes(data, "bar.toml", Path(folder), NOW)


def site_of(text: str) -> Site:
    """The site of a file that must be without fault."""
    found = compiled(text)
    assert isinstance(found, Site), "\n".join(map(str, found))
    return found


def edited(old: str, new: str) -> str:
    """The good site file with one place changed."""
    assert GOOD.count(old) == 1, f"{old!r} stands {GOOD.count(old)} times"
    return GOOD.replace(old, new)
