"""`lastlitre fleet`: many sites, read centrally."""

from __future__ import annotations

import importlib
import importlib.util
import signal
import threading
from pathlib import Path

import click

from analytics.errors import LastLitreError

ELSEWHERE: dict[str, tuple[str, str]] = {
    "people": ("dashboards.fleet_people_command", "people_command"),
    "priors": ("dashboards.fleet_priors_command", "priors_command"),
    "broker": ("dashboards.fleet.identity_commands", "broker_command"),
    "enrol": ("dashboards.fleet.identity_commands", "enrol_command"),
    "revoke": ("dashboards.fleet.identity_commands", "revoke_command"),
    "token": ("dashboards.fleet.identity_commands", "token_command"),
}
"""Commands in files of their own: name to module and attribute."""

LIBRARIES = ("sqlalchemy", "psycopg", "icalendar", "markdown_it")


class FleetCommands(click.Group):
    """`lastlitre fleet FLEET.toml` runs the fleet; a known word in its place is a command."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return sorted([*super().list_commands(ctx), *ELSEWHERE])

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name."""
        if cmd_name not in ELSEWHERE:
            return super().get_command(ctx, cmd_name)
        need_libraries()
        module, name = ELSEWHERE[cmd_name]
        found: click.Command = getattr(importlib.import_module(module), name)
        return found

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put `run` before anything that is no command."""
        first = next((arg for arg in args if not arg.startswith("-")), None)
        if first is not None and first not in self.list_commands(ctx):
            args = ["run", *args]
        return super().parse_args(ctx, args)


@click.group(name="fleet", cls=FleetCommands)
def fleet_command() -> None:
    """Read many sites from their broker: lastlitre fleet FLEET.toml"""


@fleet_command.command()
@click.argument("fleet_file", type=click.Path(path_type=Path))
@click.option("--ingest-only", is_flag=True, help="A further worker, without pages.")
def run(fleet_file: Path, ingest_only: bool) -> None:
    """Keep what the sites of FLEET_FILE send, and show the pages, until stopped.

    Any number of further workers may run with --ingest-only on the same broker and records.
    """
    need_libraries()
    from firmware_bridge.fleet.config import load_fleet
    from firmware_bridge.fleet.house import Fleet
    from firmware_bridge.logs import set_up_logs

    file = load_fleet(fleet_file)
    set_up_logs()
    with Fleet(file, ingest_only=ingest_only) as fleet:
        where = f"{file.broker.host}:{file.broker.port}"
        click.echo(f"{file.company}: reading from {where}, records in {fleet.records.where}")
        if ingest_only:
            _until_told()
            return
        from dashboards.fleet.api.routes import routes_of
        from dashboards.fleet.serving import serve_until_told

        serve_until_told(fleet.records, file, click.echo, routes_of(fleet.records, file))


@fleet_command.command()
@click.argument("fleet_file", type=click.Path(path_type=Path))
def sample(fleet_file: Path) -> None:
    """Write a commented sample to FLEET_FILE."""
    from firmware_bridge.fleet.config import sample_text

    try:
        with fleet_file.open("x", encoding="utf-8") as file:
            file.write(sample_text())
    except FileExistsError:
        raise LastLitreError(f"{fleet_file} is there already.", "Choose another name.") from None
    except OSError as fault:
        raise LastLitreError(f"{fleet_file}: {fault.strerror}.", "Choose another place.") from fault
    click.echo(f"Wrote {fleet_file}. Next: lastlitre fleet {fleet_file}")


def need_libraries() -> None:
    """Raises LastLitreError where the libraries only the fleet needs are not installed."""
    missing = [name for name in LIBRARIES if importlib.util.find_spec(name) is None]
    if missing:
        raise LastLitreError(
            f"The fleet needs libraries that are not installed: {', '.join(missing)}.",
            'Install them: pip install "lastlitre[fleet]"',
        )


def _until_told() -> None:
    """Wait for SIGINT or SIGTERM."""
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    stop.wait()
