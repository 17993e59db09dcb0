"""`lastlitre export`: what the site's file holds as CSV."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click

from analytics.errors import LastLitreError
from analytics.samples import DAY_MS
from analytics.setup import SiteSetup

KINDS = ("readings", "draws", "estimates", "alarms", "events")
AS_FILE = click.Path(path_type=Path)
AS_INSTANT = "DATE[Thh:mm]"


@click.command(name="export")
@click.argument("site_file", type=AS_FILE)
@click.option("--out", required=True, type=AS_FILE, help="File to write: .csv, or .csv.gz in gzip.")
@click.option("--kind", type=click.Choice(KINDS), default="readings", show_default=True,
              help="What to write.")  # fmt: skip
@click.option("--line", "line_id", help="One line only (default: all, one after the other).")
@click.option("--from", "begin", metavar=AS_INSTANT, help="From this day on, by the site's clock.")
@click.option("--to", "end", metavar=AS_INSTANT, help="Up to this day, which is not included.")
def export_command(
    site_file: Path, out: Path, kind: str, line_id: str | None, begin: str | None, end: str | None
) -> None:
    """Write what SITE_FILE's site has stored as CSV. A running site is not disturbed."""
    from firmware_bridge import config
    from firmware_bridge.export import Asked, export
    from firmware_bridge.store.reader import Reader

    site = config.load(site_file)
    lines = _lines(site.setup, line_id)
    now_ms = round(dt.datetime.now(dt.UTC).timestamp() * 1000)
    asked = Asked(
        lines=lines,
        from_ms=_instant(site.setup, "--from", begin) if begin else 0,
        to_ms=_instant(site.setup, "--to", end) if end else now_ms + DAY_MS,
    )
    if asked.to_ms <= asked.from_ms:
        raise LastLitreError("--to is not after --from.", "Give a later --to.")
    reader = Reader(Path(site.wiring.store_path))
    try:
        with click.progressbar(length=1000, label=f"Writing {out.name}", file=sys.stderr) as bar:

            def progress(share: float) -> None:
                bar.update(max(0, round(1000 * share) - bar.pos))

            count = export(reader, kind, asked, out, progress)
    finally:
        reader.close()
    click.echo(f"Wrote {count} rows of {kind} to {out}.")


def _lines(setup: SiteSetup, line_id: str | None) -> tuple[str, ...]:
    names = tuple(line.line_id for line in setup.lines)
    if line_id is None:
        return names
    if line_id not in names:
        raise LastLitreError(
            f"There is no line {line_id!r} in the site file.", f"It has: {', '.join(names)}."
        )
    return (line_id,)


def _instant(setup: SiteSetup, option: str, text: str) -> int:
    """A day or minute by the site's clock as an instant; raises LastLitreError."""
    from firmware_bridge.config.local_time import zone_of

    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError as exc:
        raise LastLitreError(
            f"{option} {text!r} is no date.", "Write it as 2026-05-14 or 2026-05-14T08:00."
        ) from exc
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone_of(setup.time_zone))
    return round(moment.timestamp() * 1000)
