"""The commands `meters ...`: what is plugged in, what it says now, calibrating it."""

from __future__ import annotations

import asyncio
import getpass
from pathlib import Path
from typing import Final

import click

from analytics.errors import LastLitreError
from analytics.setup import LineSetup
from dashboards.phrases.language import FALLBACK, codes

SITE_FILE: Final = click.argument("site_file", type=click.Path(path_type=Path))
LINE: Final = click.option("--line", "line_id", help="Which line (default: the only one).")


@click.group(name="meters")
def meters_command() -> None:
    """Find meters, see what they say, calibrate them."""


@meters_command.command()
@click.argument("ports", nargs=-1)
@click.option("--units", default="1-10", show_default=True, help="Modbus units to ask: 1-247.")
@click.option("--baud", "bauds", multiple=True, type=int, help="Modbus paces to try (default: 3).")
@click.option("--no-sdi-12", is_flag=True, help="Do not ask for SDI-12 sensors.")
@click.option("--lang", type=click.Choice(codes()), default=FALLBACK, help="Language.")
def scan(
    ports: tuple[str, ...], units: str, bauds: tuple[int, ...], no_sdi_12: bool, lang: str
) -> None:
    """Say what answers on each port, and what to put in the site file.

    PORTS are serial ports, HOST:PORT of a Modbus device, or a site file, whose meters are then
    read as it says. Without any, every serial port of this machine. It listens first and then only
    asks; it never writes a setting.
    """
    from dashboards.meters_scan import scan_all
    from dashboards.taste import Taste
    from firmware_bridge.scanning import BUS_BAUDS, Wanted

    wanted = Wanted(units=_units(units), bauds=bauds or BUS_BAUDS, sdi_12=not no_sdi_12)
    asyncio.run(scan_all(ports, wanted, Taste(lang=lang).reader(), click.echo))


@meters_command.command()
@SITE_FILE
@click.option("--once", is_flag=True, help="Show each meter once and stop.")
@click.option("--json", "as_json", is_flag=True, help="A JSON object a line.")
def watch(site_file: Path, once: bool, as_json: bool) -> None:
    """Show what the meters of SITE_FILE say, as it comes: values, quality, age, rate."""
    from dashboards.meters_watch import watch_meters
    from firmware_bridge import config
    from firmware_bridge.logs import hush_logs

    hush_logs()
    watch_meters(config.load(site_file), once=once, as_json=as_json, say=click.echo)


@meters_command.command()
@SITE_FILE
@LINE
@click.option("--anew", is_flag=True, help="Forget what is done and begin again.")
@click.option(
    "--step",
    "steps",
    multiple=True,
    type=click.Choice(["dry", "standard", "cross-zero", "jugs"]),
    help="Only this step (may be given several times).",
)
@click.option("--who", help="Who signs for it in the logbook (default: you).")
def calibrate(
    site_file: Path, line_id: str | None, anew: bool, steps: tuple[str, ...], who: str | None
) -> None:
    """Calibrate the probes and the flow meter of a line, step by step.

    Dry probe, KCl standard, both probes in one water, measured jugs. Each result is shown with its
    uncertainty before it goes into the logbook; it can be left at any time and taken up again for
    a day. A probe or flow meter that was replaced: lastlitre note SITE_FILE meter-replaced
    """
    from dashboards.calibrate_guide import Guide
    from firmware_bridge import config
    from firmware_bridge.logs import hush_logs

    hush_logs()
    site = config.load(site_file)
    line = _line(site.setup.lines, line_id)
    signed = who or getpass.getuser()
    with Guide(
        site, line, ask=click.prompt, confirm=click.confirm, say=click.echo, who=signed
    ) as guide:
        guide.run(steps or ("dry", "standard", "cross-zero", "jugs"), anew=anew)


def _line(lines: tuple[LineSetup, ...], line_id: str | None) -> LineSetup:
    names = ", ".join(line.line_id for line in lines)
    if line_id is None and len(lines) > 1:
        raise LastLitreError("This site has several lines.", f"Say which: --line, one of {names}.")
    for line in lines:
        if line_id in (None, line.line_id):
            return line
    raise LastLitreError(f"There is no line {line_id!r} in the site file.", f"It has: {names}.")


def _units(text: str) -> tuple[int, ...]:
    try:
        spans = [part.split("-") for part in text.split(",")]
        units = [unit for span in spans for unit in range(int(span[0]), int(span[-1]) + 1)]
    except ValueError:
        units = []
    if not units or not all(1 <= unit <= 247 for unit in units):
        raise LastLitreError(f"--units {text!r} are no Modbus units.", "Write 1-10 or 3,7,12.")
    return tuple(units)
