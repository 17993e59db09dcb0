"""Tables of a site file about the box: its meters, sinks, notices, pages and store."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import (
    asks,
    exactly,
    file_path,
    host,
    ident,
    ip_address,
    quantity,
    quiet_hours,
    several,
    time_of_day,
    whole,
    words,
)


class MeterTable(msgspec.Struct, frozen=True, kw_only=True):
    """A meter or a node; which further keys it has depends on its driver."""

    driver: Annotated[str, asks("What reads it.", words, example='"node-serial"', live=True)]
    id: Annotated[
        str | None, asks("Short name; left out, the driver's.", ident, example='"node"')
    ] = None
    line: Annotated[
        str | None,
        asks("The line it is on; left out where the site has one.", ident, example='"bar"'),
    ] = None


class SinkTable(msgspec.Struct, frozen=True, kw_only=True):
    """Where the record is streamed to; which further keys it has depends on its kind."""

    kind: Annotated[str, asks("The sort of receiver.", words, example='"mqtt"', live=True)]
    id: Annotated[
        str | None, asks("Short name; left out, the kind's.", ident, example='"stream"')
    ] = None


IN_CLEAR = "everyone on this network may read our passwords"
"""The sentence by which somebody allows it."""


class NotifierTable(msgspec.Struct, frozen=True, kw_only=True):
    """A way to tell people about alarms; which further keys it has depends on its kind."""

    kind: Annotated[str, asks("The way.", words, example='"email"', live=True)]
    id: Annotated[
        str | None, asks("Short name; left out, the kind's.", ident, example='"owner"')
    ] = None
    least: Annotated[
        Literal["low", "medium", "high"],
        asks("Alarms of this priority and above.", example='"medium"'),
    ] = "medium"
    quiet: Annotated[
        tuple[int, int],
        asks("When only alarms of high priority are told.", quiet_hours, example='"none"'),
    ] = (0, 0)
    again_s: Annotated[
        float,
        asks(
            "Tell again this long after, while nobody has acknowledged; 0 s is never.",
            quantity(kinds.SPAN_S),
            example='"0 s"',
        ),
    ] = msgspec.field(name="again", default=0.0)
    escalate_s: Annotated[
        float,
        asks(
            "Tell the next ones this long after, while nobody has acknowledged; 0 s is never.",
            quantity(kinds.SPAN_S),
            example='"0 s"',
        ),
    ] = msgspec.field(name="escalate", default=0.0)
    cleared: Annotated[
        bool, asks("Whether to tell also that an alarm is over.", example="true")
    ] = True
    digest_min: Annotated[
        int | None,
        asks("Sum the day up at this time of day.", time_of_day, example='"07:00"'),
    ] = msgspec.field(name="digest", default=None)


Proxies: TypeAlias = Annotated[
    tuple[str, ...],
    asks(
        "Addresses of proxies in front of the page: their X-Forwarded-For and"
        " X-Forwarded-Proto are believed, nobody else's.",
        several(ip_address, 'a list of addresses, such as ["192.168.1.5"]'),
        example='["192.168.1.5"]',
    ),
]
LoginsInClear: TypeAlias = Annotated[
    str | None,
    asks(
        "Without https a password can be read on the way, so signing in over the network is"
        " refused, unless this sentence stands here word for word.",
        exactly(IN_CLEAR),
        example=f'"{IN_CLEAR}"',
    ),
]


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """Where the page is served."""

    host: Annotated[
        str,
        asks(
            "Address to listen on; only this machine can see 127.0.0.1.",
            host,
            example='"127.0.0.1"',
        ),
    ] = "127.0.0.1"
    port: Annotated[
        int, asks("Port; 0 takes any that is free.", whole(0, 65535), example="8420")
    ] = 8420
    view: Annotated[
        Literal["signed-in", "everyone"],
        asks(
            "Who may look, once somebody has a password; changing always needs a sign-in.",
            example='"signed-in"',
        ),
    ] = "signed-in"
    people: Annotated[
        str | None,
        asks(
            "File of the people who may sign in; left out, beside the record.",
            file_path,
            example='"harbour-steps.people"',
        ),
    ] = None
    names: Annotated[
        tuple[str, ...],
        asks(
            "Names by which browsers reach this machine, besides its own name and addresses.",
            several(host, 'a list of names, such as ["bar.lan"]'),
            example='["bar.lan"]',
        ),
    ] = ()
    tls_cert: Annotated[
        str | None,
        asks("Certificate (PEM) for https.", file_path, example='"bar.crt"'),
    ] = None
    tls_key: Annotated[
        str | None,
        asks(
            "Its key (PEM), which only its owner can read (0600).", file_path, example='"bar.key"'
        ),
    ] = None
    proxies: Proxies = ()
    logins_in_clear: LoginsInClear = None


class Store(msgspec.Struct, frozen=True, kw_only=True):
    """The site's record: one SQLite file."""

    path: Annotated[
        str | None,
        asks(
            "Where it lies; left out, beside this file under the site's id.",
            file_path,
            example='"harbour-steps.sqlite"',
        ),
    ] = None
    limit_bytes: Annotated[
        float,
        asks(
            "The most room it may take. Before it is full the oldest readings give way: first "
            "their rows become values by the minute, then those go. Draws, estimates, alarms, "
            "dated facts and values by the hour are always kept.",
            quantity(kinds.DISK),
            example='"2 GB"',
        ),
    ] = msgspec.field(name="disk_limit", default=2e9)
    rows_days: Annotated[
        float,
        asks(
            "Readings older than this become values by the minute, once every sink has them.",
            quantity(kinds.SPAN_DAYS, low=7.0),
            example='"24 month"',
        ),
    ] = msgspec.field(name="keep_readings", default=730.5)
    minutes_days: Annotated[
        float,
        asks(
            "Values by the minute older than this go.",
            quantity(kinds.SPAN_DAYS, low=31.0),
            example='"10 year"',
        ),
    ] = msgspec.field(name="keep_minutes", default=3652.5)
