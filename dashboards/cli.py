"""The command line: every command a person types, and where the parts are put together."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Any

import click

from analytics.errors import ConfigError, LastLitreError
from firmware_bridge.thrift import one_thread_of_algebra

ELSEWHERE = {
    "backup": ("dashboards.record_commands", "backup_command"),
    "backtest": ("dashboards.backtest_command", "backtest_command"),
    "firmware": ("dashboards.firmware_command", "firmware_command"),
    "export": ("dashboards.export_command", "export_command"),
    "fleet": ("dashboards.fleet_command", "fleet_command"),
    "join": ("dashboards.join_command", "join_command"),
    "node": ("dashboards.node_command", "node_command"),
    "logbook": ("dashboards.logbook_command", "logbook_command"),
    "note": ("dashboards.logbook_command", "note_command"),
    "meters": ("dashboards.meters_command", "meters_command"),
    "paper": ("dashboards.paper_command", "paper_command"),
    "people": ("dashboards.people_command", "people_command"),
    "restore": ("dashboards.record_commands", "restore_command"),
    "service": ("dashboards.service_command", "service_command"),
    "status": ("dashboards.status_command", "status_command"),
    "survey": ("dashboards.survey_command", "survey_command"),
}
"""Commands in files of their own, loaded when asked for: the daemon never holds their libraries."""


class Commands(click.Group):
    """Turns every fault a person can mend into a sentence and exit code 2."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return sorted([*super().list_commands(ctx), *ELSEWHERE])

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name."""
        if cmd_name not in ELSEWHERE:
            return super().get_command(ctx, cmd_name)
        module, name = ELSEWHERE[cmd_name]
        found: click.Command = getattr(importlib.import_module(module), name)
        return found

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        one_thread_of_algebra()
        try:
            return super().invoke(ctx)
        except ConfigError as fault:
            for sentence in fault.faults:
                click.echo(sentence, err=True)
            _end(fault.hint)
        except LastLitreError as fault:
            click.echo(str(fault), err=True)
            _end(fault.hint)


def _end(hint: str) -> None:
    if hint:
        click.echo(hint, err=True)
    sys.exit(2)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="lastlitre")
def main() -> None:
    """Watch the water behind a filter cartridge: how it is, and how many litres are left."""


@main.command()
@click.argument("site_file", type=click.Path(path_type=Path))
def check(site_file: Path) -> None:
    """List every fault of SITE_FILE at once (exit code 2 if there is one)."""
    from dashboards.taste import usual_taste
    from firmware_bridge import config

    faults = config.check(site_file)
    if faults:
        raise ConfigError([str(fault) for fault in faults])
    usual_taste(config.load(site_file).wiring.language)
    click.echo(f"{site_file}: no faults.")


@main.command()
@click.argument("site_file", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "notes",
    type=click.Path(path_type=Path),
    help="Begin from an installer's notes (site.json) instead of the commented sample.",
)
@click.option("--overwrite", is_flag=True, help="Replace SITE_FILE if it is there.")
def new(site_file: Path, notes: Path | None, overwrite: bool) -> None:
    """Write a new site file: a commented sample, or one made from an installer's notes."""
    from firmware_bridge.config.notes import from_notes
    from firmware_bridge.config.sample import sample_text

    text = sample_text() if notes is None else from_notes(notes)
    try:
        with site_file.open("w" if overwrite else "x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise LastLitreError(f"{site_file} is there already.", "Give --overwrite.") from None
    except OSError as fault:
        raise LastLitreError(f"{site_file}: {fault.strerror}.", "Choose another place.") from fault
    click.echo(f"Wrote {site_file}. Next: lastlitre check {site_file}")


@main.command()
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument("recording", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the CSVs.")
@click.option("--line", "line_id", help="Which line of the site was recorded (default: the first).")
def replay(site_file: Path, recording: Path, out: Path, line_id: str | None) -> None:
    """Run RECORDING (CSV or CSV.gz) through the pipeline; writes estimates.csv and alarms.csv."""
    from dashboards.replay_summary import Summary
    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.replay import replay as run

    site = config.load(site_file)
    line = _line(site.setup.lines, line_id)
    label = f"Replaying {recording.name}"
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:

        def progress(share: float) -> None:
            bar.update(max(0, round(1000 * share) - bar.pos))

        found = run(site.setup, line, recording, out, progress)
    reader = usual_taste(site.wiring.language).reader()
    click.echo(Summary(site.setup, reader, found).text(line, out))


def _line(lines: Any, line_id: str | None) -> Any:
    if line_id is None:
        return lines[0]
    for line in lines:
        if line.line_id == line_id:
            return line
    names = ", ".join(line.line_id for line in lines)
    raise LastLitreError(f"There is no line {line_id!r} in the site file.", f"It has: {names}.")


@main.command()
@click.argument("site_file", type=click.Path(path_type=Path))
@click.option("--no-page", is_flag=True, help="Run without the page (headless).")
def run(site_file: Path, no_page: bool) -> None:
    """Run the site: read its meters, estimate, store, stream and show, until stopped."""
    from dashboards.running import run_until_stopped
    from firmware_bridge import config
    from firmware_bridge.clock import SystemClock

    site = config.load(site_file)
    run_until_stopped(site, SystemClock(), page=not no_page, say=click.echo)


@main.command()
@click.option(
    "--port", default=8420, show_default=True, help="Port of the page; 0 takes a free one."
)
@click.option(
    "--speed", type=float, help="Virtual seconds to the second [10800; with --fleet 900]."
)
@click.option("--folder", type=click.Path(path_type=Path), help="Keep the site's file here.")
@click.option("--fleet", is_flag=True, help="A service company with fifty virtual sites instead.")
def demo(port: int, speed: float | None, folder: Path | None, fleet: bool) -> None:
    """Show a virtual café: a cartridge lives and dies within minutes, on the real path."""
    if fleet:
        from dashboards.fleet_demo import run_fleet_demo

        run_fleet_demo(port, speed, folder, say=click.echo)
        return
    from dashboards.running import run_demo

    run_demo(port, speed or 10_800.0, folder, say=click.echo)
