"""`lastlitre status`: how the site's file stands, with the daemon running or not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import click

from dashboards.phrases.numbers import decimal_text
from dashboards.phrases.reader import Reader as Person
from firmware_bridge.store.reader import Reader

REASONS_SHOWN = 5


@click.command(name="status")
@click.argument("site_file", type=click.Path(path_type=Path))
def status_command(site_file: Path) -> None:
    """Say how many rows SITE_FILE's site has stored, how far each sink is, and what was refused."""
    from dashboards.taste import usual_taste
    from firmware_bridge import config

    site = config.load(site_file)
    person = usual_taste(site.wiring.language).reader()
    path = Path(site.wiring.store_path)
    reader = Reader(path)
    try:
        for sentence in file_status(reader, path, site.wiring.keeping.limit_bytes, person):
            click.echo(sentence)
        for sink in site.wiring.sinks:
            for sentence in sink_status(reader, sink.sink_id, person):
                click.echo(sentence)
        for name, count in reader.counters().items():
            click.echo(person.say("status.counted", name=name, n=count))
    finally:
        reader.close()


def file_status(reader: Reader, path: Path, limit_bytes: int, person: Person) -> Iterator[str]:
    """Sentences about the file: its rows, its size, what became of the oldest readings."""
    used = sum(file.stat().st_size for file in path.parent.glob(f"{path.name}*") if file.is_file())
    form = person.language.numbers
    yield person.say(
        "status.file",
        path=str(path),
        newest=reader.newest(),
        used=decimal_text(used / 1e6, 0.1, form),
        limit=decimal_text(limit_bytes / 1e6, 1.0, form),
    )
    for line_id in reader.lines():
        kept_from_ms = reader.rows_from_ms(line_id)
        if kept_from_ms:
            day = datetime.fromtimestamp(kept_from_ms / 1000.0, UTC).date()
            yield person.say("status.thinned", line=line_id, day=day.isoformat())


def sink_status(reader: Reader, sink: str, person: Person) -> Iterator[str]:
    """Sentences about one sink."""
    newest, cursor = reader.newest(), reader.cursors().get(sink, 0)
    waiting = newest - cursor
    yield person.say("status.sink", sink=sink, row=cursor, waiting=waiting)
    refused = reader.rejected(sink)
    if refused:
        yield f"  {person.counted('status.refused', len(refused))}"
    reasons = Counter(row.reason for row in refused)
    last = {row.reason: row.seq for row in refused}
    for reason, count in reasons.most_common(REASONS_SHOWN):
        said = person.say("status.reason", n=count, reason=reason, row=last[reason])
        yield f"  {said}"
    if len(reasons) > REASONS_SHOWN:
        yield f"  {person.counted('status.more', len(reasons) - REASONS_SHOWN)}"
