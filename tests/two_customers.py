"""A small fleet of two customers in records of its own, with a token for each kind of person."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import Connection
from starlette.applications import Starlette

from dashboards.access.rules import Rules
from dashboards.fleet.api import Api, api_routes
from dashboards.fleet.api.pace import Pace
from firmware_bridge.fleet.identity.tokens import make_token
from firmware_bridge.fleet.ingest.rows import encoded, packed
from firmware_bridge.fleet.records import tables as t
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.forward.payloads import BatchRow

NOW = 1_800_000_000_000
DAY = 86_400_000
MINE, OTHERS = 1, 2
"""Customers."""
NASTY = "<script>alert('x')</script>'; DROP TABLE sites; --"
"""A name that is code in some other place."""
LINES_A_SITE = 2
ROWS = 12


class Fleet(msgspec.Struct, frozen=True, kw_only=True):
    """The records and the app, and tokens by who holds them."""

    records: Records
    app: Starlette
    tokens: dict[str, str]
    mine: tuple[int, ...]
    others: tuple[int, ...]
    waiting: int

    def bearing(self, who: str) -> dict[str, str]:
        """The header of this token."""
        return {"Authorization": f"Bearer {self.tokens[who]}"}


@contextmanager
def two_customers(folder: Path, url: str = "", sites_each: int = 3) -> Iterator[Fleet]:
    """Some sites a customer, one that nobody adopted, and the app over them."""
    with open_records(url or f"sqlite:///{folder / 'fleet.sqlite'}") as records:
        with records.begin() as connection:
            mine = tuple(_site(connection, n, MINE) for n in range(sites_each))
            others = tuple(_site(connection, n, OTHERS) for n in range(sites_each))
            waiting = _site(connection, 99, None, state="unknown")
            tokens = _tokens(connection)
        api = Api(
            records, rules=Rules(in_clear=True), now_ms=lambda: NOW, pace=Pace(lambda: 0.0, 1e9)
        )
        yield Fleet(
            records=records,
            app=Starlette(routes=api_routes(api)),
            tokens=tokens,
            mine=mine,
            others=others,
            waiting=waiting,
        )


def _tokens(connection: Connection) -> dict[str, str]:
    found = {}
    for role, customer in (
        ("owner", None),
        ("dispatcher", None),
        ("technician", None),
        ("customer", MINE),
    ):
        login = {"login": role, "role": role, "customer_no": customer, "made_ms": 0}
        number = connection.execute(t.people.insert().values(**login)).inserted_primary_key[0]
        found[role] = make_token(connection, number, "test", NOW, for_ms=DAY, may_change=True)[1]
        found[f"{role} reads"] = make_token(connection, number, "test", NOW, for_ms=DAY)[1]
        found[f"{role} before"] = make_token(connection, number, "old", NOW - DAY, for_ms=DAY)[1]
    return found


def _site(connection: Connection, n: int, customer: int | None, state: str = "adopted") -> int:
    if customer is not None and n == 0:
        name = {MINE: "Harbour Steps", OTHERS: f"Quay {NASTY}"}[customer]
        connection.execute(t.customers.insert().values(customer_no=customer, name=name))
    site = f"site-{customer or 'x'}-{n}"
    made = connection.execute(
        t.sites.insert().values(
            site=site, state=state, name=f"Place {customer} {n} {NASTY}", region="chalk",
            customer_no=customer, heard_ms=NOW, online=True, first_heard_ms=NOW - DAY,
        )
    )  # fmt: skip
    number = int(made.inserted_primary_key[0])
    own = {"site_no": number}
    connection.execute(t.tags.insert().values(**own, tag="harbour"))
    for line in ("bar", "bär 2")[:LINES_A_SITE]:
        at = own | {"line": line}
        _insert(connection, t.lines, **at, medium="sodium", size="M", end_p05_ms=NOW + DAY,
                end_p50_ms=NOW + 5 * DAY, end_p95_ms=NOW + 9 * DAY, estimate_ms=NOW,
                fitted_ms=NOW - 90 * DAY, capacity_mmol=3600.0, remaining_l_p50=812.5)  # fmt: skip
        _insert(connection, t.alarms, **at, alarm="end-near", state="unacknowledged",
                priority="medium", since_ms=NOW, at_ms=NOW)  # fmt: skip
        _insert(connection, t.doubts, **at, doubt="silent", since_ms=NOW - DAY)
        _insert(connection, t.cartridges, **at, cartridge="c1", medium="sodium", size="M",
                fitted_ms=NOW - 90 * DAY, removed_ms=NOW, litres=3000.0, reached_end=True,
                capacity_mmol=3600.0, delivered_mmol_p05=3100.0, delivered_mmol_p50=3400.0,
                delivered_mmol_p95=3700.0)  # fmt: skip
        _insert(connection, t.visits, **at, day="2027-01-20", note=f"note {site}")
        for part in range(3):
            _chunk(connection, at, part)
    who = _insert(connection, t.names, **own, name=f"Ada of {site}")
    gone = _insert(connection, t.names, **own, name="erased 1", erased_ms=NOW)
    for seq, name in ((1001, who), (1002, gone), (1003, None)):
        _insert(connection, t.events, **own, seq=seq, era=0, line="bar", at_ms=NOW + seq,
                kind="drop-test", body=_body(seq), name_no=name)  # fmt: skip
    return number


def _body(seq: int) -> str:
    words = {"hardness": "soft", "name_no": "7"}
    row = BatchRow(seq=seq, at_ms=NOW + seq, numbers={"drops": 3.0}, words=words)
    return msgspec.json.encode(row).decode()


def _chunk(connection: Connection, at: dict[str, Any], part: int) -> None:
    rows = [
        BatchRow(seq=seq, at_ms=NOW + seq * 1000, numbers={"outlet_us_cm": 400.0 + seq})
        for seq in range(1 + part * ROWS, 1 + (part + 1) * ROWS)
    ]
    _insert(connection, t.chunks, **at, kind="reading", first=rows[0].seq, last=rows[-1].seq,
            rows=len(rows), from_ms=rows[0].at_ms, to_ms=rows[-1].at_ms,
            body=packed([encoded(rows[:5]), encoded(rows[5:])]))  # fmt: skip


def _insert(connection: Connection, table: Any, **values: Any) -> Any:
    made = connection.execute(table.insert().values(**values)).inserted_primary_key
    return made[0] if made else None
