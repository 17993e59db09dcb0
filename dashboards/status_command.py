"""`lastlitre status`: how the site's file stands, with the daemon running or not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import click

from firmware_bridge.store.reader import Reader

REASONS_SHOWN = 5


@click.command(name="status")
@click.argument("site_file", type=click.Path(path_type=Path))
def status_command(site_file: Path) -> None:
    """Say how many rows SITE_FILE's site has stored, how far each sink is, and what was refused."""
    from firmware_bridge import config

    site = config.load(site_file)
    path = Path(site.wiring.store_path)
    reader = Reader(path)
    try:
        click.echo(f"{path}: {reader.newest()} rows stored.")
        for sink in site.wiring.sinks:
            for sentence in sink_status(reader, sink.sink_id):
                click.echo(sentence)
        for name, count in reader.counters().items():
            click.echo(f"Counted {name}: {count}")
    finally:
        reader.close()


def sink_status(reader: Reader, sink: str) -> Iterator[str]:
    """Sentences about one sink."""
    newest, cursor = reader.newest(), reader.cursors().get(sink, 0)
    waiting = newest - cursor
    yield f"Sink {sink}: confirmed up to row {cursor}, {waiting} to go."
    refused = reader.rejected(sink)
    if refused:
        yield f"  {len(refused)} rows were refused and are kept aside:"
    reasons = Counter(row.reason for row in refused)
    last = {row.reason: row.seq for row in refused}
    for reason, count in reasons.most_common(REASONS_SHOWN):
        yield f"  {count} x {reason} (last: row {last[reason]})"
    if len(reasons) > REASONS_SHOWN:
        yield f"  and {len(reasons) - REASONS_SHOWN} more reasons."
