"""The fleet file: where the broker is, where records are kept, where the pages are shown.

    load_fleet(path)  -> FleetFile, every fault of the file named at once; secrets put in
    sample_text()     -> a commented sample, from the same definitions

It is read by the readers of the site file, so a fault names its place and the mend alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import msgspec

from analytics.fleet.due import Rules
from firmware_bridge.config import kinds, rules, sample, toml_file
from firmware_bridge.config.box_tables import LoginsInClear, Proxies
from firmware_bridge.config.fault import Fault, Refused, nearest
from firmware_bridge.config.loading import error_of
from firmware_bridge.config.local_time import time_zone
from firmware_bridge.config.readers import (
    Place,
    asks,
    env_name,
    file_path,
    host,
    matching,
    quantity,
    several,
    whole,
    words,
)
from firmware_bridge.config.reading import MISSING, fault, fields_of, read_table
from firmware_bridge.config.secret import settled
from firmware_bridge.config.sink_options.line_protocol import LineProtocol
from firmware_bridge.config.sink_options.mqtt import Mqtt
from firmware_bridge.fleet.identity.sites_table import Joining, SitesTable, joining_of
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.sinks.line_protocol import LineProtocolOptions
from firmware_bridge.secrets import Secret

T = TypeVar("T", bound=msgspec.Struct)
HEADINGS = ("company", "broker", "sites", "records", "series", "page")
HOME = frozenset(("localhost", "127.0.0.1", "::1"))
SILENT_S = Rules().silent_ms / 1000
SAMPLE = "lastlitre fleet sample FLEET.toml"
POSTGRESQL = "postgresql+psycopg://"
OPENING = """
A fleet file: what a service company reads from its sites' broker, and where it keeps it. Lines with
## explain; lines with # are switched off and show the default, or an example where there is none.
"""


def records_url(value: object, place: Place) -> str:
    """The address of a PostgreSQL database, without a password in it."""
    allowed = f'an address such as "{POSTGRESQL}lastlitre@127.0.0.1:5432/lastlitre"'
    if not isinstance(value, str) or not value.startswith(POSTGRESQL) or len(value) > 500:
        mend = 'For a SQLite file write path = "fleet.sqlite" instead.'
        raise Refused("not the address of a database this program knows", allowed, mend)
    user = value.removeprefix(POSTGRESQL).partition("@")[0]
    if "@" in value and ":" in user:
        mend = "Take the password out and name it by password_env or password_file."
        raise Refused("a secret in an address", allowed, mend)
    return value


class CompanyTable(msgspec.Struct, frozen=True, kw_only=True):
    """Who looks after the sites."""

    name: Annotated[
        str,
        asks(
            "The service company, as people call it.",
            words,
            example='"Northgate Water Care"',
            live=True,
        ),
    ]
    time_zone: Annotated[
        str,
        asks(
            "Time zone of its days and rounds, by its IANA name or as UTC+05:30.",
            time_zone,
            example='"Europe/Berlin"',
            live=True,
        ),
    ] = "UTC"
    silent_after_s: Annotated[
        float,
        asks(
            "A site that says nothing for so long is listed as silent.",
            quantity(kinds.SPAN_S, low=60.0, high=864_000.0),
            example='"26 h"',
        ),
    ] = msgspec.field(name="silent_after", default=SILENT_S)
    newcomers: Annotated[
        Literal["wait", "adopt"],
        asks(
            "A site that nobody entered waits until a person adopts it (it keeps its own rows"
            " meanwhile), or is adopted at once; the latter only where the broker lets none but"
            " your own sites in.",
            example='"wait"',
        ),
    ] = "wait"


class BrokerTable(Mqtt, frozen=True, kw_only=True):
    """The MQTT 5 broker the sites publish to."""

    group: Annotated[
        str,
        asks(
            "Workers of one group share the work; each message goes to one of them.",
            matching(r"[A-Za-z0-9-]{1,64}", "letters, digits and hyphens"),
            example='"lastlitre"',
        ),
    ] = "lastlitre"


class RecordsTable(msgspec.Struct, frozen=True, kw_only=True):
    """Where the records are kept: one SQLite file, or a PostgreSQL database."""

    path: Annotated[
        str | None,
        asks(
            "The SQLite file; left out, beside this file under its name.",
            file_path,
            example='"fleet.sqlite"',
        ),
    ] = None
    url: Annotated[
        str | None,
        asks(
            "Or a PostgreSQL database, where one machine is outgrown.",
            records_url,
            example=f'"{POSTGRESQL}lastlitre@127.0.0.1:5432/lastlitre"',
        ),
    ] = None
    password_env: Annotated[
        str | None,
        asks(
            "Environment variable with its password.", env_name, example='"LASTLITRE_DB_PASSWORD"'
        ),
    ] = None
    password_file: Annotated[
        str | None,
        asks(
            "Or a file with the password that only its owner can read (0600).",
            file_path,
            example='"records.password"',
        ),
    ] = None
    readings_days: Annotated[
        float,
        asks(
            "Readings older than this become values by the minute. Draws, estimates, alarms and"
            " what people did are always kept.",
            quantity(kinds.SPAN_DAYS, low=1.0),
            example='"90 day"',
        ),
    ] = msgspec.field(name="keep_readings", default=90.0)
    minutes_days: Annotated[
        float,
        asks(
            "Values by the minute older than this go.",
            quantity(kinds.SPAN_DAYS, low=31.0),
            example='"24 month"',
        ),
    ] = msgspec.field(name="keep_minutes", default=730.5)


class SeriesTable(LineProtocol, frozen=True, kw_only=True):
    """A time-series store that gets every row too; without it the readings are in the records."""


class FleetPage(msgspec.Struct, frozen=True, kw_only=True):
    """Where the pages are served."""

    host: Annotated[
        str,
        asks(
            "Address to listen on; only this machine can see 127.0.0.1.",
            host,
            example='"127.0.0.1"',
        ),
    ] = "127.0.0.1"
    port: Annotated[
        int, asks("Port; 0 takes any that is free.", whole(0, 65535), example="8430")
    ] = 8430
    names: Annotated[
        tuple[str, ...],
        asks(
            "Names by which browsers reach this machine, besides its own name and addresses.",
            several(host, 'a list of names, such as ["fleet.lan"]'),
            example='["fleet.lan"]',
        ),
    ] = ()
    tls_cert: Annotated[
        str | None, asks("Certificate (PEM) for https.", file_path, example='"fleet.crt"')
    ] = None
    tls_key: Annotated[
        str | None,
        asks(
            "Its key (PEM), which only its owner can read (0600).", file_path, example='"fleet.key"'
        ),
    ] = None
    proxies: Proxies = ()
    logins_in_clear: LoginsInClear = None


class Keep(msgspec.Struct, frozen=True, kw_only=True):
    """How long readings are kept as they came, and then by the minute, in days."""

    readings_days: float = 90.0
    minutes_days: float = 730.5


class FleetFile(msgspec.Struct, frozen=True, kw_only=True):
    """A fleet file, read: the company, how to reach the parts, how long to keep things."""

    company: str
    time_zone: str = "UTC"
    adopt_newcomers: bool = False
    broker: MqttOptions
    group: str = "lastlitre"
    records_url: str
    records_password: Secret = Secret("")
    series: LineProtocolOptions | None = None
    joining: Joining | None = None
    page: FleetPage = FleetPage()
    keep: Keep = Keep()
    silent_after_s: float = SILENT_S
    folder: str = "."
    """The fleet file's own folder."""


def load_fleet(path: Path | str, environment: Mapping[str, str] | None = None) -> FleetFile:
    """What a fleet file states. Raises ConfigError with every fault of it."""
    path = Path(path)
    data = toml_file.read_bytes(path, "fleet file")
    raw = data if isinstance(data, Fault) else toml_file.parse(data, str(path), SAMPLE)
    if isinstance(raw, Fault):
        raise error_of([raw], path, SAMPLE_HINT)
    faults: list[Fault] = []
    found = _read(raw, path, faults)
    if faults or found is None:
        raise error_of(faults, path, SAMPLE_HINT)
    return _fleet(found, path, environment)


def sample_text() -> str:
    """A fleet file without a fault, with every table and key there is."""
    parts = [
        *sample.explained(OPENING),
        "",
        *sample.block("[company]", CompanyTable),
        *sample.block("[broker]", BrokerTable),
        *sample.block("[sites]", SitesTable, off=True),
        *sample.block("[records]", RecordsTable, off=True),
        *sample.block("[series]", SeriesTable, off=True),
        *sample.block("[page]", FleetPage, off=True),
    ]
    return "\n".join(parts).rstrip() + "\n"


SAMPLE_HINT = f"Mend the file and start again; {SAMPLE} writes a commented one."


class _Tables(msgspec.Struct, frozen=True, kw_only=True):
    company: CompanyTable
    broker: BrokerTable
    sites: SitesTable | None
    records: RecordsTable
    series: SeriesTable | None
    page: FleetPage


def _read(raw: dict[str, Any], path: Path, faults: list[Fault]) -> _Tables | None:
    place = Place(file=str(path), folder=path.absolute().parent)
    _refuse_strange_tables(raw, place, faults)
    company = _table(CompanyTable, "company", raw, place, faults, needed=True)
    broker = _table(BrokerTable, "broker", raw, place, faults, needed=True)
    sites = _table(SitesTable, "sites", raw, place, faults) if "sites" in raw else None
    records = _table(RecordsTable, "records", raw, place, faults)
    series = _table(SeriesTable, "series", raw, place, faults) if "series" in raw else None
    page = _table(FleetPage, "page", raw, place, faults)
    if company is None or broker is None or records is None or page is None:
        return None
    tables = _Tables(
        company=company, broker=broker, sites=sites, records=records, series=series, page=page
    )
    faults.extend(_between(tables, raw, place))
    return tables


def _table(
    form: type[T],
    heading: str,
    raw: dict[str, Any],
    place: Place,
    faults: list[Fault],
    needed: bool = False,
) -> T | None:
    here = place.at(heading)
    if needed and heading not in raw:
        keys = " and ".join(f"{f.key} = {f.example}" for f in fields_of(form) if f.required)
        mend = f"Add [{heading}] with {keys}."
        faults.append(fault(here, "", MISSING, "this table is missing", mend=mend))
        return None
    return read_table(form, raw.get(heading, {}), here, faults)


def _refuse_strange_tables(raw: dict[str, Any], place: Place, faults: list[Fault]) -> None:
    for key, value in raw.items():
        if key not in HEADINGS:
            is_table = isinstance(value, dict | list)
            problem = "no such table" if is_table else "a key outside any table"
            shown = MISSING if is_table else value
            allowed, mend = ", ".join(HEADINGS), nearest(key, HEADINGS)
            faults.append(fault(place, key, shown, problem, allowed=allowed, mend=mend))


def _between(tables: _Tables, raw: dict[str, Any], place: Place) -> Iterator[Fault]:
    """What is wrong between keys that are each right by themselves."""
    for heading in ("broker", "sites", "records", "series"):
        options = getattr(tables, heading)
        if options is not None:
            yield from rules.secrets_one_way(options, raw.get(heading, {}), place.at(heading))
    if tables.sites is not None and not tables.sites.tls and tables.sites.host not in HOME:
        mend = "Take tls = false away and give the broker a certificate."
        problem = "the sites' secrets would travel in the clear"
        yield fault(place.at("sites"), "tls", False, problem, mend=mend)
    records, page = tables.records, tables.page
    if records.url is not None and records.path is not None:
        mend = "Keep one of the two: a file of our own, or a database."
        yield fault(place.at("records"), "path", records.path, "url is stated too", mend=mend)
    named = records.password_env or records.password_file
    if named and records.url is None:
        mend = "A SQLite file has no password: take it away, or add url."
        yield fault(place.at("records"), "password_env", MISSING, "there is no url", mend=mend)
    if (page.tls_cert is None) != (page.tls_key is None):
        key = "tls_key" if page.tls_key is None else "tls_cert"
        mend = "State tls_cert and tls_key together, or neither."
        yield fault(place.at("page"), key, MISSING, "only half of what https needs", mend=mend)


def _fleet(tables: _Tables, path: Path, environment: Mapping[str, str] | None = None) -> FleetFile:
    class _Password(msgspec.Struct):
        password: Secret = Secret("")

    company, records = tables.company, tables.records
    beside = records.path or str(path.absolute().with_suffix(".sqlite"))
    series = tables.series
    broker = settled(tables.broker, MqttOptions, environment)
    return FleetFile(
        company=company.name,
        time_zone=company.time_zone,
        silent_after_s=company.silent_after_s,
        adopt_newcomers=company.newcomers == "adopt",
        broker=broker,
        group=tables.broker.group,
        records_url=records.url or f"sqlite:///{beside}",
        records_password=settled(records, _Password, environment).password,
        series=settled(series, LineProtocolOptions, environment) if series else None,
        joining=joining_of(tables.sites, broker, environment) if tables.sites else None,
        page=tables.page,
        keep=Keep(readings_days=records.readings_days, minutes_days=records.minutes_days),
        folder=str(path.absolute().parent),
    )
