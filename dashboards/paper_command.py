"""`lastlitre paper`: a record or report of a site, as PDF or as a bundle."""

from __future__ import annotations

from pathlib import Path

import click
import msgspec

from dashboards.paper.address import for_phones, stated
from dashboards.paper.make import KINDS, SIZES, make, wanted_of
from dashboards.phrases.language import codes
from dashboards.taste import usual_taste
from firmware_bridge.clock import SystemClock
from firmware_bridge.store.reader import Reader


@click.command("paper")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--line", default="", help="Which line (default: the first).")
@click.option("--cartridge", type=int, default=-1, help="0 the oldest, -1 the one that is in.")
@click.option("--year", type=int, default=None, help="Year of a report.")
@click.option("--month", type=int, default=None, help="Month of a report, 1 to 12.")
@click.option(
    "--size", type=click.Choice(SIZES), default="a4", show_default=True, help="Size of the sheet."
)
@click.option(
    "--lang",
    type=click.Choice(codes()),
    help="Language of the texts (default: the site file's).",
)
@click.option("--units", default="dH", show_default=True, help="Unit of hardness.")
@click.option("--address", default="", help="Address of the pages (default: as in the site file).")
@click.option("--out", type=click.Path(path_type=Path), default=None, help="File or folder.")
def paper_command(
    site_file: Path,
    kind: str,
    line: str,
    cartridge: int,
    year: int | None,
    month: int | None,
    size: str,
    lang: str | None,
    units: str,
    address: str,
    out: Path | None,
) -> None:
    """Write a paper of a site: the record of a cartridge CHANGE, the report of a MONTH or YEAR, all
    EVIDENCE of one cartridge, or the HANDOVER record of a fitting. Works beside a running
    daemon."""
    from firmware_bridge import config

    site = config.load(site_file)
    now_ms = SystemClock().now_ms()
    taste = usual_taste(lang or site.wiring.language)
    person = msgspec.structs.replace(taste, units=units).reader()
    query = {"kind": kind, "line": line, "cartridge": str(cartridge), "paper": size}
    query |= {n: str(v) for n, v in (("year", year), ("month", month)) if v is not None}
    store = Reader(Path(site.wiring.store_path))
    try:
        wanted = msgspec.structs.replace(
            wanted_of(query, site.setup), address=for_phones(address) or stated(site.wiring.page)
        )
        made = make(store, site.setup, person, now_ms, wanted)
    finally:
        store.close()
    target = out or Path(made.file_name)
    if target.is_dir():
        target = target / made.file_name
    target.write_bytes(made.body)
    size = f"{len(made.body) / 1000:.0f}"
    click.echo(person.say("paper.written", path=str(target), size=size))
