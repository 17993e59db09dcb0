"""What the fleet's cartridges teach, read from the records; shown, exported, put into new sites.

    learnt_from(records) -> Taught    taught_by(connection), where the records are being read
    as_csv, as_json                   site_file_lines(one)

The fleet only reads: nothing is sent to a site. Whoever sets up a new one puts the lines into its
site file, and the estimate there begins with them.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from typing import Any, Final

import msgspec
import numpy as np
from sqlalchemy import select
from sqlalchemy.engine import Connection

from analytics.fleet.capacity_prior import (
    RATED_SD,
    CapacityPrior,
    Served,
    as_stated,
    learn,
)
from analytics.quantities import DH_MMOL_L
from analytics.samples import Spread
from firmware_bridge.export import safe
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import cartridges, sites
from firmware_bridge.forward.payloads import Card

SEED: Final = 20240
"""Of the chance that goes into the sampling: the same records give the same priors."""
HEAD = (
    "medium", "size", "region", "rated_mmol", "capacity_share_p05", "capacity_share_p50",
    "capacity_share_p95", "relative_sd", "mean_sd", "ended", "taken_early", "stated_capacity_mmol",
    "stated_spread",
)  # fmt: skip

_card = msgspec.json.Decoder(Card)


class Prior(msgspec.Struct, frozen=True, kw_only=True):
    """What a new cartridge of one medium and size is expected to deliver in one region.

    `learnt` has it as a share of `rated_mmol`, the largest capacity any site states for the kind.
    `stated_capacity_mmol` and `stated_spread` are what a site file is to state for it. An empty
    region is any in which nobody has served yet.
    """

    medium: str
    size: str
    region: str
    rated_mmol: float
    learnt: CapacityPrior
    stated_capacity_mmol: float
    stated_spread: float


class Taught(msgspec.Struct, frozen=True, kw_only=True):
    """All priors, how many cartridges they rest on, and how many of all could not tell anything."""

    priors: tuple[Prior, ...]
    cartridges: int
    left_out: int


def learnt_from(records: Records, seed: int = SEED) -> Taught:
    """What the cartridges of adopted sites teach so far; raises StoreError."""
    with records.read() as connection:
        return taught_by(connection, seed)


def taught_by(connection: Connection, seed: int = SEED) -> Taught:
    """The same from records that are being read already."""
    served = served_by(connection)
    found = learn([each for _, each in served], np.random.default_rng(seed))
    kinds = {each.kind: (medium_and_size, each.rated_mmol) for medium_and_size, each in served}
    return Taught(
        priors=tuple(_prior(prior, *kinds[prior.kind]) for prior in found.priors),
        cartridges=found.cartridges,
        left_out=found.left_out,
    )


def served_by(connection: Connection) -> list[tuple[tuple[str, str], Served]]:
    """Every cartridge that ended or was taken out, with its medium and size."""
    asked = (
        select(cartridges, sites.c.region, sites.c.card)
        .join(sites, sites.c.site_no == cartridges.c.site_no)
        .where(
            sites.c.state == "adopted",
            cartridges.c.capacity_mmol > 0.0,
            cartridges.c.delivered_mmol_p50.is_not(None),
            cartridges.c.reached_end | cartridges.c.removed_ms.is_not(None),
        )
        .order_by(cartridges.c.cartridge_no)
    )
    rows = [dict(row) for row in connection.execute(asked).mappings()]
    rated: dict[tuple[str, str], float] = {}
    for row in rows:
        kind = (row["medium"], row["size"])
        rated[kind] = max(rated.get(kind, 0.0), row["capacity_mmol"])
    spreads: dict[str, dict[str, float]] = {}
    found: list[tuple[tuple[str, str], Served]] = []
    for row in rows:
        kind = (row["medium"], row["size"])
        stated_sd = spreads.setdefault(row["card"], _spreads(row["card"])).get(row["line"])
        served = Served(
            kind=msgspec.json.encode(kind).decode(),
            region=row["region"],
            rated_mmol=rated[kind],
            delivered=_told(row),
            reached_end=row["reached_end"],
            believed=row["holds_mmol_p50"] is not None,
            stated_mmol=row["capacity_mmol"],
            stated_sd=RATED_SD if stated_sd is None else stated_sd,
        )
        found.append((kind, served))
    return found


def _told(row: Mapping[str, Any]) -> Spread:
    """What the site tells of a cartridge, in mmol: what it believes it holds, else what went in.

    Belief serves also where the end was not reached: who changes a cartridge does so because the
    end is near, and the front that is seen coming says more than that it has not come yet.
    """
    which = "holds" if row["holds_mmol_p50"] is not None else "delivered"
    p05, p50, p95 = (row[f"{which}_mmol_{point}"] for point in ("p05", "p50", "p95"))
    return Spread(p05=p05, p50=p50, p95=p95)


def as_csv(taught: Taught) -> str:
    """The priors as a table; nothing in it starts a formula in a spreadsheet."""
    out = io.StringIO()
    write = csv.writer(out)
    write.writerow(HEAD)
    write.writerows([safe(cell) for cell in _row(prior)] for prior in taught.priors)
    return out.getvalue()


def as_json(taught: Taught) -> bytes:
    """The priors with all that is known of them."""
    return msgspec.json.format(msgspec.json.encode(taught), indent=2)


def site_file_lines(prior: Prior) -> str:
    """The two keys of a site file's [[line]] by which a new site begins with this prior."""
    capacity_dh_l = prior.stated_capacity_mmol / DH_MMOL_L
    digits = max(3 - math.ceil(math.log10(max(capacity_dh_l, 1e-6))), 0)
    return (
        f'capacity = "{capacity_dh_l:.{digits}f} dH*L"\n'
        f'capacity_spread = "{100.0 * prior.stated_spread:.1f} %"\n'
    )


def _prior(learnt: CapacityPrior, kind: tuple[str, str], rated_mmol: float) -> Prior:
    capacity, spread = as_stated(learnt, rated_mmol)
    return Prior(
        medium=kind[0],
        size=kind[1],
        region=learnt.region,
        rated_mmol=rated_mmol,
        learnt=learnt,
        stated_capacity_mmol=capacity,
        stated_spread=spread,
    )


def _row(prior: Prior) -> tuple[str | float, ...]:
    learnt = prior.learnt
    figures = (
        prior.rated_mmol, learnt.share.p05, learnt.share.p50, learnt.share.p95,
        learnt.relative_sd, learnt.mean_sd,
    )  # fmt: skip
    stated = (round(prior.stated_capacity_mmol, 2), round(prior.stated_spread, 4))
    return (
        prior.medium, prior.size, prior.region, *(round(figure, 4) for figure in figures),
        learnt.ended, learnt.taken_early, *stated,
    )  # fmt: skip


def _spreads(card: str) -> dict[str, float]:
    """How wide the capacity of each line is stated, as the site's card has it."""
    try:
        lines = _card.decode(card).lines
    except msgspec.MsgspecError:  # a site that has not introduced itself yet
        return {}
    found = {line.line_id: line.capacity_relative_sd for line in lines}
    return {line: spread for line, spread in found.items() if spread is not None}
