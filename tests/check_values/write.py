"""Write the table of check values into DEVELOPERS.md: `python -m tests.check_values.write`."""

from __future__ import annotations

import re
from pathlib import Path

from tests.check_values.table import markdown

DOCUMENT = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
MARKED = re.compile(r"(<!-- checks -->\n).*?(<!-- /checks -->)", re.DOTALL)


def with_table(text: str) -> str:
    """The document with the table between its marks."""
    return MARKED.sub(lambda found: f"{found[1]}{markdown()}\n{found[2]}", text)


if __name__ == "__main__":
    DOCUMENT.write_text(with_table(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
