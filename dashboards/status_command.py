"""`lastlitre status`: how the site's file stands, with the daemon running or not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
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
        for sentence in file_status(reader, path, site.wiring.keeping.limit_bytes):
            click.echo(sentence)
        for sink in site.wiring.sinks:
            for sentence in sink_status(reader, sink.sink_id):
                click.echo(sentence)
        for name, count in reader.counters().items():
            click.echo(f"Counted {name}: {count}")
    finally:
        reader.close()


def file_status(reader: Reader, path: Path, limit_bytes: int) -> Iterator[str]:
    """Sentences about the file: its rows, its size, what became of the oldest readings."""
    used = sum(file.stat().st_size for file in path.parent.glob(f"{path.name}*") if file.is_file())
    yield (
        f"{path}: rows numbered up to {reader.newest()}, {used / 1e6:.1f} MB of "
        f"{limit_bytes / 1e6:.0f} MB with all that lies beside it."
    )
    for line_id in reader.lines():
        kept_from_ms = reader.rows_from_ms(line_id)
        if kept_from_ms:
            day = datetime.fromtimestamp(kept_from_ms / 1000.0, UTC).date()
            yield f"Line {line_id}: readings before {day} are kept as values by the minute."


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
