"""Workers on one shared subscription, a real broker and database: a kill of any loses nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware_bridge.fleet.config import load_fleet
from firmware_bridge.fleet.house import Fleet
from firmware_bridge.fleet.records.tables import sites
from firmware_bridge.forward.sink import SiteCard
from firmware_bridge.forward.sinks import mqtt
from tests import peers
from tests.firmware_bridge.fleet.sites_speak import all_of, kept
from tests.firmware_bridge.forward.outbox import ListOutbox, forwarder, readings, running, until
from tests.fleet_faults import database_away, killed_at_random
from tests.fleet_working import KEEN
from tests.postgres import Postgres
from tests.stream_faults import options


@pytest.mark.peer
@pytest.mark.timeout(300)
async def test_kills_lose_nothing_and_double_nothing_in_sqlite(tmp_path: Path) -> None:
    """Workers and broker are killed; what was confirmed is there, each row once."""
    found = await killed_at_random(tmp_path, 3, None)
    assert found.lost == 0


@pytest.mark.peer
@pytest.mark.timeout(300)
async def test_kills_lose_nothing_and_double_nothing_in_postgresql(
    tmp_path: Path, own_database: Postgres
) -> None:
    """Workers, broker and database are killed; what was confirmed is there, each row once."""
    found = await killed_at_random(tmp_path, 4, own_database, seed=11)
    assert found.lost == 0


@pytest.mark.peer
@pytest.mark.timeout(300)
async def test_database_that_is_away_loses_nothing(tmp_path: Path, own_database: Postgres) -> None:
    """Nothing is confirmed meanwhile; everything is there afterwards."""
    assert await database_away(tmp_path, own_database, 1.0) == 0


@pytest.mark.peer
@pytest.mark.timeout(60)
async def test_fleet_from_its_file_keeps_what_an_adopted_site_sends(tmp_path: Path) -> None:
    """A stranger's rows stay with it until it is adopted; then they all come."""
    with peers.broker(tmp_path / "broker") as broker:
        file = tmp_path / "fleet.toml"
        file.write_text(
            f'[company]\nname = "Northgate"\n[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n'
        )
        box = ListOutbox(readings(1, 200))
        with Fleet(load_fleet(file), pace=KEEN) as fleet:
            card = SiteCard(site_id="harbour-steps", name="Harbour Steps")
            async with running(forwarder(mqtt.SINK, options(broker.port), box, card=card)) as task:
                await until("the site to show", lambda: all_of(fleet.records, sites))
                await until("rows to be sent", lambda: task.status.accepted == 200)
                assert box.cursor("mqtt") == 0
                with fleet.records.begin() as connection:
                    connection.execute(sites.update().values(state="adopted"))
                await until("confirmation", lambda: box.cursor("mqtt") == 200)
            assert sorted(kept(fleet.records)) == list(range(1, 201))
