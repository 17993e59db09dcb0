"""`lastlitre firmware`: the node's program in a folder to copy from."""

from __future__ import annotations

from pathlib import Path

import click

from firmware_bridge.firmware_folder import write_firmware


@click.command("firmware")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace an older program; settings.py stays.")
def firmware_command(folder: Path, overwrite: bool) -> None:
    """Write the node's program into FOLDER, from where it is copied to a board."""
    written = write_firmware(folder, overwrite=overwrite)
    click.echo(f"Wrote {len(written)} files. Next: {folder / 'how-to-copy.txt'}")
