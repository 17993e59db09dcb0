"""`lastlitre service`: the unit by which systemd runs a site."""

from __future__ import annotations

import getpass
from pathlib import Path

import click

from analytics.errors import LastLitreError


@click.command(name="service")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.option("--print", "show", is_flag=True, help="Print the unit.")
@click.option("--user", help="The user it runs as (default: you).")
def service_command(site_file: Path, show: bool, user: str | None) -> None:
    """Print a systemd unit that runs SITE_FILE at boot, watched and in a box of its own.

    It may write the folder of the record and its cache, use the kinds of serial port that the site
    file names, and nothing else. Put it in place yourself, as root:

    lastlitre service SITE.toml --print > /etc/systemd/system/lastlitre.service

    systemctl enable --now lastlitre
    """
    from firmware_bridge import config
    from firmware_bridge.service_unit import unit_text

    if not show:
        raise LastLitreError("Nothing is put in place by itself.", "Give --print.")
    click.echo(unit_text(config.load(site_file), site_file, user or getpass.getuser()), nl=False)
