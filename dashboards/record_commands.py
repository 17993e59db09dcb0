"""Commands about the site's record as a whole: a backup of it, and a backup put back."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click


@click.command("backup")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument("dest", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace DEST if it is there.")
def backup_command(site_file: Path, dest: Path, overwrite: bool) -> None:
    """Copy the record of SITE_FILE to DEST (a file, or a folder), also while the site runs.

    The copy is one state of the record; every page of it is checked before it gets its name.
    """
    from dashboards.phrases.numbers import decimal_text
    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.store.backup import back_up

    site = config.load(site_file)
    record = Path(site.wiring.store_path)
    if dest.is_dir():
        stamp = time.strftime("%Y-%m-%dT%H%M%SZ", time.gmtime())
        dest = dest / f"{record.stem}-{stamp}{record.suffix}"
    with click.progressbar(length=1000, label=f"Copying {record.name}", file=sys.stderr) as bar:

        def progress(share: float) -> None:
            bar.update(max(0, round(1000 * share) - bar.pos))

        copied = back_up(record, dest, progress, overwrite=overwrite)
        progress(1.0)
    person = usual_taste(site.wiring.language).reader()
    size = decimal_text(copied.size_bytes / 1e6, 0.1, person.language.numbers)
    path = str(copied.path)
    click.echo(person.say("record.copied", path=path, size=size, newest=copied.newest_seq))


@click.command("restore")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument("backup", type=click.Path(path_type=Path))
def restore_command(site_file: Path, backup: Path) -> None:
    """Put BACKUP in the place of the record of SITE_FILE; the site must not be running.

    The record that is there is set aside under a name with the date, never thrown away.
    """
    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.store.backup import restore

    site = config.load(site_file)
    record = Path(site.wiring.store_path)
    done = restore(record, backup, site.setup.site_id, time.time_ns() // 1_000_000)
    person = usual_taste(site.wiring.language).reader()
    if done.set_aside is not None:
        click.echo(person.say("record.aside", path=str(done.set_aside)))
    said = {"record": str(record), "backup": str(backup)}
    click.echo(person.say("record.restored", newest=done.newest_seq, **said))
