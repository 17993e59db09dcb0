"""The command `backtest`: how good the estimate was, where the truth is known."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from analytics.errors import LastLitreError
from firmware_bridge.backtest import backtest


@click.command(name="backtest")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--workers", type=click.IntRange(min=1),
              help="Lives replayed at one time (default: one for each core).")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
@click.option("--plot", type=click.Path(path_type=Path), metavar="FILE.svg",
              help="Draw here where the truth lay in the stated ranges.")  # fmt: skip
def backtest_command(folder: Path, workers: int | None, as_json: bool, plot: Path | None) -> None:
    """Replay every recording under DIR that has truth, and set the estimate beside a plain counter.

    A life is a folder with recording.csv.gz, site.json (what the installer wrote down) and
    truth.json (what really happened: read for the score only).
    """
    if plot is not None and plot.suffix.lower() != ".svg":
        raise LastLitreError(f"{plot}: only SVG is drawn.", "Give a name that ends in .svg.")
    if plot is not None and not plot.parent.is_dir():
        raise LastLitreError(f"{plot.parent} is no folder.", "Choose another place.")
    with click.progressbar(length=1, label="Replaying", file=sys.stderr) as bar:

        def progress(done: int, whole: int, name: str) -> None:
            bar.length, bar.label = whole, f"Replaying ({name})"
            bar.update(done - bar.pos)

        report = backtest(folder, progress, workers)
    if plot is not None:
        _write(plot, report.plot())
    click.echo((report.json().decode() if as_json else report.text()).rstrip("\n"))
    if plot is not None:
        click.echo(f"Drawn: {plot}", err=True)


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise LastLitreError(f"{path}: {fault.strerror}.", "Choose another place.") from fault
