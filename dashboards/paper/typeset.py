"""A sheet as PDF (PDF/UA-1: tagged for screen readers), set by a short-lived process of its own.

The setter holds 40 MB while it works; the daemon never does. `python -m dashboards.paper.typeset`
reads a sheet as JSON and writes the PDF.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import msgspec

from analytics.errors import LastLitreError
from dashboards.paper.sheet import Sheet

PATIENCE_S = 120.0
HERE = Path(__file__).parent
FOREIGN = "could not be displayed"
"""What the setter says of a sign its fonts lack: then the system's fonts help, and where none has
it a box stands for it. Such a paper is tagged, but no PDF/UA."""


class PaperError(LastLitreError):
    """A paper could not be set."""


def pdf_of(sheet: Sheet) -> bytes:
    """The sheet as PDF; raises PaperError with the setter's reason."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "dashboards.paper.typeset"],
            input=msgspec.json.encode(sheet),
            capture_output=True,
            timeout=PATIENCE_S,
            check=False,
        )
    except subprocess.TimeoutExpired as exc:
        raise PaperError(
            f"the paper was not set within {PATIENCE_S:.0f} s", "Try again when the box is idle."
        ) from exc
    if done.returncode:
        reason = done.stderr.decode(errors="replace").strip().splitlines()
        raise PaperError(
            f"the paper could not be set: {reason[-1] if reason else 'no reason given'}",
            "Install the program again: its type setter or a font is missing.",
        )
    return done.stdout


def main() -> None:
    """Set the sheet that stands on standard input."""
    import ttf_opensans
    import typst

    text = sys.stdin.buffer.read()
    msgspec.json.decode(text, type=Sheet)
    fonts = [Path(ttf_opensans.__file__).parent]
    inputs = {"sheet": text.decode()}
    template = HERE / "sheet.typ"
    try:
        pdf = typst.compile(
            template,
            ignore_system_fonts=True,
            pdf_standards=["ua-1"],
            font_paths=[*fonts],
            sys_inputs=inputs,
        )
    except typst.TypstError as exc:
        if FOREIGN not in str(exc):
            raise
        pdf = typst.compile(template, font_paths=[*fonts], sys_inputs=inputs)
    sys.stdout.buffer.write(pdf)


if __name__ == "__main__":
    main()
