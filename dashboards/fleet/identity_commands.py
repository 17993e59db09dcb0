"""`lastlitre fleet enrol`, `revoke`, `broker`, `token`: who may speak for sites, and for people."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import click

from analytics.errors import LastLitreError
from firmware_bridge.config.writing import table
from firmware_bridge.fleet.identity.broker_folder import BrokerPlan, write_broker

DAY_MS = 86_400_000
FLEET_FILE = click.argument("fleet_file", type=click.Path(path_type=Path))


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@click.command(name="enrol")
@FLEET_FILE
@click.argument("site")
def enrol_command(fleet_file: Path, site: str) -> None:
    """Give a code by which SITE (the id in its site file) can join the fleet, once.

    The code is shown now and never again. A code given before and not used works no more. When it
    is used, a box that spoke for SITE until then is cut off.
    """
    with _opened(fleet_file) as fleet:
        code = fleet.enrolling.code(site)
        hours = fleet.joining.codes_ms / 3_600_000
        click.echo(code)
        click.echo(
            f"Good once, for {hours:g} h. On the site's box:\n"
            f"lastlitre join SITE.toml {code} {fleet.address}",
            err=True,
        )


@click.command(name="revoke")
@FLEET_FILE
@click.argument("site")
def revoke_command(fleet_file: Path, site: str) -> None:
    """Cut off whatever box speaks for SITE, at once; a code that was given works no more."""
    with _opened(fleet_file) as fleet:
        ended = fleet.enrolling.revoke(site)
    if not ended:
        raise LastLitreError(f"No box speaks for {site!r}.", "Is this the id in its site file?")
    click.echo(f"{site}: {len(ended)} login revoked, the connection is cut.")


@click.command(name="broker")
@FLEET_FILE
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--port", default=1883, show_default=True, help="Port for this machine alone.")
@click.option("--tls-port", default=8883, show_default=True, help="Port for the sites.")
@click.option("--cert", default="", help="Certificate (PEM) of the sites' port.")
@click.option("--key", default="", help="Its key (PEM), which the broker's user can read.")
@click.option("--run-as", default="", help="User the broker runs as; left out, yours.")
@click.option("--plugin", default="", help="Path of mosquitto_dynamic_security.so.")
def broker_command(
    fleet_file: Path,
    folder: Path,
    port: int,
    tls_port: int,
    cert: str,
    key: str,
    run_as: str,
    plugin: str,
) -> None:
    """Write a folder by which Mosquitto 2 runs as the fleet's broker.

    Logins that are in the folder already are kept. Where there is no FLEET_FILE yet, one is written
    that goes with the broker; else its lines are shown.
    """
    if bool(cert) != bool(key):
        raise LastLitreError("--cert and --key belong together.", "Name both, or neither.")
    plan = BrokerPlan(
        prefix=_prefix(fleet_file), local_port=port, tls_port=tls_port, cert_file=cert,
        key_file=key, run_as=run_as, plugin=plugin,
    )  # fmt: skip
    new = write_broker(folder, plan)
    click.echo(f"Wrote {folder}: {'settings and logins' if new else 'settings; logins are kept'}.")
    lines = _tables(os.path.relpath(folder, fleet_file.parent), plan)
    if fleet_file.exists():
        click.echo(f"In {fleet_file}:\n\n{lines}")
    else:
        company = table("[company]", {"name": "Northgate Water Care", "time_zone": "UTC"})
        fleet_file.write_text(f"{company}\n{lines}", encoding="utf-8")
        click.echo(f"Wrote {fleet_file}: put your company's name and time zone into it.")
    click.echo(f"Next: mosquitto -c {folder / 'mosquitto.conf'}")


@click.command(name="token")
@FLEET_FILE
@click.argument("what", type=click.Choice(["list", "new", "revoke"]))
@click.argument("login")
@click.argument("number", type=int, required=False)
@click.option("--for", "what_for", default="", help="What it is for, in a few words.")
@click.option("--change", is_flag=True, help="It may change things, as far as its person may.")
@click.option("--days", default=90, show_default=True, help="How long it works.")
def token_command(
    fleet_file: Path,
    what: str,
    login: str,
    number: int | None,
    what_for: str,
    change: bool,
    days: int,
) -> None:
    """Tokens by which programs ask the fleet in the name of the person called LOGIN.

    list: what there is, and when each was used last. new: a token, shown now and never again.
    revoke NUMBER: it works no more.
    """
    from firmware_bridge.fleet.identity import tokens
    from firmware_bridge.fleet.people.acts import Doer, folded
    from firmware_bridge.fleet.records import people_rows

    with _records(fleet_file) as records, records.begin() as connection:
        person = people_rows.by_login(connection, folded(login))
        if person is None or not person.may_sign_in:
            raise LastLitreError(f"There is nobody called {login}.", "See: lastlitre fleet people")
        doer = Doer(person_no=None, at_ms=_now_ms())
        about = f"person {person.person_no}"
        if what == "list":
            for token in tokens.tokens_of(connection, person.person_no):
                click.echo(_line(token))
        elif what == "new":
            made, text = tokens.make_token(
                connection, person.person_no, what_for, doer.at_ms,
                for_ms=days * DAY_MS, may_change=change,
            )  # fmt: skip
            doer.write(connection, "token.made", about, token=made, change=change)
            click.echo(text)
        elif number is None or not tokens.revoke_token(
            connection, person.person_no, number, doer.at_ms
        ):
            raise LastLitreError("There is no such token to revoke.", "See: token FLEET list LOGIN")
        else:
            doer.write(connection, "token.revoked", about, token=number)
            click.echo(f"Token {number} works no more.")


def _line(token: Any) -> str:
    parts = (
        f"{token.token_no}: {token.what_for}",
        "reads and changes" if token.may_change else "reads",
        f"until {_day(token.until_ms)}",
        "never used" if token.used_ms is None else f"used {_day(token.used_ms)}",
        "works" if token.works(_now_ms()) else "works no more",
    )
    return "; ".join(parts)


def _day(at_ms: int) -> str:
    return time.strftime("%Y-%m-%d", time.gmtime(at_ms / 1000))


class _Opened:
    """The parts of a fleet that enrolment needs; used as `with`."""

    def __init__(self, fleet_file: Path) -> None:
        from dashboards.fleet.serving import outside_address
        from firmware_bridge.fleet.config import load_fleet
        from firmware_bridge.fleet.identity.enrolling import Enrolling
        from firmware_bridge.fleet.records.engine import open_records

        file = load_fleet(fleet_file)
        if file.joining is None:
            raise LastLitreError(
                f"{fleet_file} has no [sites] table.",
                f"lastlitre fleet broker {fleet_file} FOLDER writes its lines.",
            )
        self.joining = file.joining
        page, way = file.page, "https" if file.page.tls_cert else "http"
        self.address = outside_address(page, f"{way}://{page.host}:{page.port}")
        self._records = open_records(file.records_url, file.records_password)
        self.enrolling = Enrolling(self._records, file.joining, _now_ms)

    def __enter__(self) -> _Opened:
        return self

    def __exit__(self, *_: object) -> None:
        self._records.close()


def _opened(fleet_file: Path) -> _Opened:
    return _Opened(fleet_file)


def _records(fleet_file: Path) -> Any:
    from firmware_bridge.fleet.config import load_fleet
    from firmware_bridge.fleet.records.engine import open_records

    file = load_fleet(fleet_file)
    return open_records(file.records_url, file.records_password)


def _prefix(fleet_file: Path) -> str:
    """The topic prefix that the fleet file states, where there is one yet."""
    from firmware_bridge.config import toml_file
    from firmware_bridge.config.fault import Fault

    data = toml_file.read_bytes(fleet_file, "fleet file") if fleet_file.exists() else b""
    raw = {} if isinstance(data, Fault) or not data else toml_file.parse(data, str(fleet_file))
    told = raw.get("broker", {}) if isinstance(raw, dict) else {}
    return str(told.get("topic_prefix", "lastlitre"))


def _tables(folder: str, plan: BrokerPlan) -> str:
    """The fleet file's lines for this broker. Without a certificate it serves this machine only."""
    keyed = bool(plan.cert_file)
    broker: dict[str, object] = {"host": "127.0.0.1", "port": plan.local_port, "user": "worker"}
    sites: dict[str, object] = {
        "host": "broker.example" if keyed else "127.0.0.1",
        "port": plan.tls_port if keyed else plan.local_port,
        "tls": keyed,
        "user": "keeper",
    }
    return "\n".join(
        table(f"[{name}]", told | {"password_file": f"{folder}/{told['user']}.secret"})
        for name, told in (("broker", broker), ("sites", sites))
    )
