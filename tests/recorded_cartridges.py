"""Records that hold what the cartridges of a simulated fleet delivered."""

from __future__ import annotations

from typing import Any

from sqlalchemy import insert

from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import cartridges, sites
from firmware_bridge.forward.payloads import card_message
from firmware_bridge.forward.sink import LineCard, SiteCard
from tests.fleets import fleet

CHALK = "=chalk"
"""A region whose name a spreadsheet would take for a formula."""


def fill(records: Records, count: int, first_site: int = 1, **more: Any) -> None:
    """Cartridges of a simulated fleet, one site a region, their numbers from `first_site` on; sizes
    are the second word of a kind."""
    simulated = fleet(count, 2)
    regions = sorted({each.region for each in simulated.served})
    with records.begin() as connection:
        for number, region in enumerate(regions, first_site):
            line = LineCard(line_id="bar", medium="hydrogen", capacity_relative_sd=0.1)
            card = SiteCard(site_id=region, lines=(line,))
            row = {
                "site_no": number, "site": region, "state": "adopted",
                "region": CHALK if region == "chalk" else region,
                "card": card_message(card, "lastlitre").payload.decode(),
            }  # fmt: skip
            connection.execute(insert(sites), row | more)
        for number, each in enumerate(simulated.served):
            medium, size = each.kind.split()
            row = {
                "site_no": regions.index(each.region) + first_site, "line": "bar",
                "cartridge": f"C{number}", "medium": medium, "size": size,
                "capacity_mmol": each.rated_mmol, "fitted_ms": number,
                "removed_ms": number + 1, "reached_end": each.reached_end,
                "delivered_mmol_p05": each.delivered.p05,
                "delivered_mmol_p50": each.delivered.p50,
                "delivered_mmol_p95": each.delivered.p95,
            }  # fmt: skip
            connection.execute(insert(cartridges), row)
