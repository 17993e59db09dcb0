"""Notices of a whole running site, as its site file wires them."""

from __future__ import annotations

import asyncio
from pathlib import Path

import msgspec
import pytest

from analytics.errors import ConfigError
from firmware_bridge.clock import SystemClock
from firmware_bridge.config import Site
from firmware_bridge.config.wiring import NotifierWiring, Wiring
from firmware_bridge.daemon import run_site
from firmware_bridge.notify.channels.email import Email
from firmware_bridge.notify.policy import Policy
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.notify.told import SETUP, TELLER, change, mail_server

pytestmark = pytest.mark.timeout(120)

SITE_FILE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"

[site.limits]
disk_free_mb = 200
sink_late = "2 h"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"
limits = { outlet_hardness_low = "3 dH", profile = "coffee-2018", leak = "3 L/h", no_flow = "6 h" }

[[notifier]]
kind = "email"
host = "mail.example.org"
sender = "bar@example.org"
to = ["owner@example.org"]
quiet = "22:00-06:30"
again = "4 h"
escalate = "12 h"
digest = "07:30"

[[notifier]]
kind = "webhook"
id = "service"
url = "https://example.org/alarms"
secret_env = "LASTLITRE_WEBHOOK_SECRET"
least = "high"
"""


def site(folder: Path, port: int, **more: object) -> Site:
    """A site without meters that mails to this port."""
    options = Email(
        host="localhost",
        port=port,
        security="none",
        sender="bar@example.org",
        to=("owner@example.org",),
    )
    wired = NotifierWiring(
        notifier_id="owner",
        kind="email",
        policy=Policy(),
        options=msgspec.structs.replace(options, **more),
    )
    path = str(folder / "hs.sqlite")
    return Site(setup=SETUP, wiring=Wiring(store_path=path, notifiers=(wired,)))


async def run_until(found: Site, done: object) -> None:
    """Run the site until something is true."""
    assert callable(done)
    stop = asyncio.Event()
    task = asyncio.create_task(run_site(found, SystemClock(), stop, teller=TELLER))
    async with asyncio.timeout(60):
        while not done():  # noqa: ASYNC110 - what is waited for is a server's list
            await asyncio.sleep(0.05)
    stop.set()
    await task


async def test_standing_alarm_is_mailed_once_over_a_restart(tmp_path: Path) -> None:
    """Stored, mailed by the daemon, and not again by the next one."""
    now = SystemClock().now_ms()
    with mail_server() as box:
        found = site(tmp_path, box.port)
        store = Store.open(found.wiring.store_path, site_id="harbour-steps")
        store.submit(Batch(alarms=(("bar", change(at_ms=now)),))).result()
        store.close()
        await run_until(found, lambda: box.mails)
        store = Store.open(found.wiring.store_path, site_id="harbour-steps")
        again = change("breakthrough", at_ms=now + 1)
        store.submit(Batch(alarms=(("bar", again),))).result()
        store.close()
        await run_until(found, lambda: len(box.mails) > 1)

    assert [mail["Subject"] for mail in box.mails] == [
        "Harbour Steps: Water runs while the place is shut.",
        "Harbour Steps: The cartridge is used up.",
    ]


async def test_missing_secret_is_said_before_the_site_runs(tmp_path: Path) -> None:
    """A notifier that could never send is no surprise at night."""
    found = site(tmp_path, 25, user_env="LASTLITRE_NO_SUCH_USER")
    with pytest.raises(ConfigError, match="LASTLITRE_NO_SUCH_USER"):
        await run_site(found, SystemClock(), asyncio.Event(), teller=TELLER)


def test_site_file_wires_notifiers_and_limits() -> None:
    """What a person writes, in base units."""
    found = compiled(SITE_FILE)

    assert isinstance(found, Site)
    (limits,) = (line.limits for line in found.setup.lines)
    assert (limits.leak_l_h, limits.no_flow_h, limits.profile) == (
        pytest.approx(3.0),
        pytest.approx(6.0),
        "coffee-2018",
    )
    assert limits.outlet_low_mmol_l == pytest.approx(3 * 0.178326, rel=1e-4)
    assert found.setup.host_limits.disk_free_mb == 200
    assert found.setup.host_limits.sink_late_s == pytest.approx(7200.0)
    owner, service = found.wiring.notifiers
    assert owner.policy == Policy(
        quiet=(22 * 60, 30 * 60 + 30), again_s=14_400.0, escalate_s=43_200.0, digest_min=450
    )
    assert (service.notifier_id, service.kind, service.policy.least) == (
        "service",
        "webhook",
        "high",
    )


@pytest.mark.parametrize(
    ("right", "wrong", "key"),
    [
        ('quiet = "22:00-06:30"', 'quiet = "late"', "quiet"),
        ('digest = "07:30"', 'digest = "25:00"', "digest"),
        ('to = ["owner@example.org"]', "to = []", "to"),
        ('to = ["owner@example.org"]', 'to = ["owner"]', "to"),
        ('sender = "bar@example.org"', 'sender = "Bar <bar@example.org>"', "sender"),
        ('kind = "email"', 'kind = "e-mail"', "kind"),
        ('least = "high"', 'least = "urgent"', "least"),
        ('profile = "coffee-2018"', 'profile = "coffee"', "profile"),
        ('leak = "3 L/h"', "leak = 3", "leak"),
    ],
)
def test_faults_of_notifiers_and_limits_are_named(right: str, wrong: str, key: str) -> None:
    """With the key a person finds them under."""
    assert right in SITE_FILE
    found = compiled(SITE_FILE.replace(right, wrong, 1))

    assert isinstance(found, list)
    assert key in {fault.key for fault in found}
