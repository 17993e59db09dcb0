"""`lastlitre join`: a site joins a fleet."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="join")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument("code")
@click.argument("address")
@click.option(
    "--ca",
    "ca_file",
    type=click.Path(path_type=Path),
    help="Authority (PEM) of the fleet's own certificate, where it is not the system's.",
)
def join_command(site_file: Path, code: str, address: str, ca_file: Path | None) -> None:
    """Let the site of SITE_FILE join the fleet at ADDRESS by the CODE it was given.

    The code works once. What the fleet answers is put at the end of SITE_FILE as one more [[sink]];
    the secret stands beside it, in a file that only its owner reads. If the answer is lost on the
    way, say the same again.
    """
    from firmware_bridge.join import join

    told = join(site_file, code, address, ca_file)
    found = told.joined
    click.echo(f"{found.site} has joined; its broker is {found.host}, port {found.port}.")
    if told.why:
        click.echo(f"{told.why} Put these lines in place of an earlier sink called fleet:\n")
        click.echo(told.lines)
    click.echo(f"Next: start the site anew, so that it streams: lastlitre run {site_file}")
