"""A small invented fleet in a SQLite file, and people of every role to look at it."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import httpx
import msgspec
from sqlalchemy import insert
from starlette.applications import Starlette

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from dashboards.access.passwords import Key
from dashboards.access.rules import Rules
from dashboards.fleet.app import create_app
from dashboards.fleet.asked import House
from dashboards.fleet.door import FleetAccess, FleetPeople
from dashboards.fleet.roles import CUSTOMER, ROLES
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.sites_table import Joining
from firmware_bridge.fleet.ingest.rows import encoded, packed
from firmware_bridge.fleet.people.kept import Kept
from firmware_bridge.fleet.records import people_rows, tables
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import BatchRow, Card
from firmware_bridge.forward.sink import LineCard
from tests.dashboards.access.served import form_of, sign_in

NOW_MS = 1_777_386_720_000  # Tuesday 28 April 2026, 14:32 UTC
PASSWORD = "three wet grinders"
OURS, THEIRS = "Harbour Steps", "The Net Loft"
"""Two customers; the person of the role customer belongs to the first."""
COMPANY = "Northgate Water Care"


@cache
def kept_password() -> str:
    """What is kept of `PASSWORD`, its key made with far less work than a real one."""
    salt, work = bytes(range(16)), 2**6
    key = hashlib.scrypt(PASSWORD.encode(), salt=salt, n=work, r=8, p=1, dklen=32)
    made = Key(salt=salt, key=key, work=work, block=8, lanes=1)
    return Kept(key=msgspec.json.encode(made).decode()).text()


def estimate_row(
    at_ms: int, days: float, *, spread: float = 4.0, trusted: bool = True, ends_by: str = "capacity"
) -> BatchRow:
    """An estimate that sees the end so many days ahead."""
    numbers = {"trusted": float(trusted), "end_probability": 0.001 if days > 0 else 0.9}
    for point, off in (("p05", -spread), ("p50", 0.0), ("p95", 1.5 * spread)):
        left = max(days + off, 0.0)
        numbers |= {
            f"days_left_{point}": left,
            f"end_ms_{point}": at_ms + (days + off) * DAY_MS,
            f"remaining_l_{point}": 40.0 * left,
            f"used_share_{point}": min(max(1.0 - (days - off) / 60.0, 0.0), 1.0),
            f"outlet_mmol_l_{point}": 1.25 + 0.01 * off,
            f"raw_mmol_l_{point}": 2.8 + 0.02 * off,
        }
    numbers |= {"rests_on_litres": 0.4, "rests_on_conductivity": 0.4, "rests_on_drop_tests": 0.2}
    words = {"ends_by": ends_by, "target": "carbonate", "reason": "steady"}
    return BatchRow(seq=at_ms // 1000, at_ms=at_ms, cartridge="c1", numbers=numbers, words=words)


def line_values(row: BatchRow | None, **more: Any) -> dict[str, Any]:
    """A line's columns as ingest has them after this estimate."""
    if row is None:
        return more
    numbers = row.numbers
    reading = BatchRow(
        seq=row.seq + 1, at_ms=row.at_ms + HOUR_MS,
        numbers={"outlet_us_cm": 310.0, "outlet_temp_c": 17.5, "pulses": 3.0},
    )  # fmt: skip
    newest = {"newest": {"estimate": row, "reading": reading}, "alarms": {}}
    found: dict[str, Any] = {
        "estimate_ms": row.at_ms, "reading_ms": reading.at_ms,
        "newest": msgspec.json.encode(newest).decode(), "trusted": numbers["trusted"] != 0.0,
        "ended": numbers["end_probability"], "ends_by": row.words["ends_by"],
    }  # fmt: skip
    for point in ("p05", "p50", "p95"):
        found[f"remaining_l_{point}"] = numbers[f"remaining_l_{point}"]
        found[f"days_left_{point}"] = numbers[f"days_left_{point}"]
        found[f"end_{point}_ms"] = round(numbers[f"end_ms_{point}"])
    return found | more


class Stock:
    """The fleet with its records; `clock_ms` moves when told."""

    def __init__(self, folder: Path, records: Records | None = None) -> None:
        self.records = records or open_records(f"sqlite:///{folder / 'fleet.sqlite'}")
        self.sessions = folder / "fleet.sessions"
        self.now_ms = NOW_MS
        self.people: dict[str, int] = {}
        self.customers: dict[str, int] = {}
        with self.records.begin() as connection:
            for name in (OURS, THEIRS):
                self.customers[name] = people_rows.customer_named(connection, name)
            for role in ROLES:
                self.people[role] = people_rows.add(
                    connection,
                    login=role,
                    name=f"Some {role}",
                    role=role,
                    password=kept_password(),
                    customer_no=self.customers[OURS] if role == CUSTOMER else None,
                    made_ms=NOW_MS - 30 * DAY_MS,
                )

    def site(self, site: str, *, days: float | None = 30.0, heard_ms: int | None = None,
             line: dict[str, Any] | None = None, spread: float = 4.0, trusted: bool = True,
             ends_by: str = "capacity", lines: tuple[str, ...] = ("bar",),
             **values: Any) -> int:  # fmt: skip
        """A site with its lines; `days` to the end (None: not known)."""
        heard = self.now_ms - MINUTE_MS if heard_ms is None else heard_ms
        card = Card(
            site=site, name=values.get("name", site), service=COMPANY,
            lines=tuple(LineCard(line_id=n, medium="hydrogen", machines=("one",)) for n in lines),
        )  # fmt: skip
        row = {
            "site": site, "state": "adopted", "name": site, "heard_ms": heard, "online": True,
            "first_heard_ms": heard - 90 * DAY_MS, "card": msgspec.json.encode(card).decode(),
        } | values  # fmt: skip
        told = None
        if days is not None:
            told = estimate_row(
                heard - HOUR_MS, days, spread=spread, trusted=trusted, ends_by=ends_by
            )
        with self.records.begin() as connection:
            made = insert(tables.sites).values(**row).returning(tables.sites.c.site_no)
            number = int(connection.execute(made).scalar_one())
            usual = {"medium": "hydrogen", "size": "3", "cartridge": "c1",
                     "fitted_ms": heard - 40 * DAY_MS}  # fmt: skip
            for name in lines:
                kept = line_values(told, **(usual | (line or {})))
                connection.execute(insert(tables.lines).values(site_no=number, line=name, **kept))
        return number

    def rows(self, site_no: int, kind: str, rows: list[BatchRow], line: str = "bar") -> None:
        """Rows of a line as received in one parcel."""
        instants = [row.at_ms for row in rows]
        with self.records.begin() as connection:
            connection.execute(
                insert(tables.chunks).values(
                    site_no=site_no, line=line, kind=kind, first=rows[0].seq, last=rows[-1].seq,
                    rows=len(rows), from_ms=min(instants), to_ms=max(instants),
                    body=packed([encoded(rows)]),
                )
            )  # fmt: skip

    def add(self, table: str, **values: Any) -> None:
        """One row of any table."""
        with self.records.begin() as connection:
            connection.execute(insert(getattr(tables, table)).values(**values))

    def count(self, table: str) -> int:
        """How many rows a table has."""
        from sqlalchemy import func, select

        with self.records.read() as connection:
            asked = select(func.count()).select_from(getattr(tables, table))
            return int(connection.execute(asked).scalar_one())

    def app(self, enrolling: Enrolling | None = None, **rules: Any) -> Starlette:
        """The pages, with a door of their own; with `enrolling` they give logins."""
        access = FleetAccess(
            FleetPeople(self.records, self.sessions),
            Rules(**rules),
            wall_s=lambda: self.now_ms / 1000,
            clock=lambda: self.now_ms / 1000,
        )
        house = House(company=COMPANY, time_zone="UTC", address="https://fleet.example")
        return create_app(
            self.records, house, access=access, now_ms=lambda: self.now_ms, enrolling=enrolling
        )

    def enrolling(self, keeper: MqttOptions) -> Enrolling:
        """Who gives logins at the broker of this keeper, by codes that work for a day."""
        joining = Joining(
            host="broker.example", port=8883, tls=True, ca="", keeper=keeper, codes_ms=DAY_MS
        )
        return Enrolling(self.records, joining, lambda: self.now_ms)

    def close(self) -> None:
        """Give the file back."""
        self.records.close()


@contextmanager
def stock(folder: Path) -> Iterator[Stock]:
    """A stock, closed afterwards."""
    found = Stock(folder)
    try:
        yield found
    finally:
        found.close()


def client_of(app: Starlette, url: str = "http://127.0.0.1") -> httpx.AsyncClient:
    """A browser on the machine itself."""
    transport = httpx.ASGITransport(app=app, client=("127.0.0.1", 40_000))
    return httpx.AsyncClient(transport=transport, base_url=url, headers={"origin": url})


@asynccontextmanager
async def signed_in(
    app: Starlette, role: str, password: str = PASSWORD
) -> AsyncIterator[httpx.AsyncClient]:
    """A browser in which the person of this role is signed in."""
    async with client_of(app) as client:
        answer = await sign_in(client, role, password)
        assert answer.status_code == 303, answer.text
        yield client


async def post(
    client: httpx.AsyncClient, path: str, page: str = "/more", **fields: str
) -> httpx.Response:
    """Send a form with the token of a page of ours."""
    token = form_of((await client.get(page)).text)
    return await client.post(path, data={"form": token, **fields})
