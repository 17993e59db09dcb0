"""The payloads as a document: tables for people, JSON Schema for programs.

`python -m firmware_bridge.forward.schema` prints the JSON Schema (2020-12) of every payload;
with a file's name it writes the tables into that file between the two marks.
"""

from __future__ import annotations

import json
import sys
from inspect import cleandoc
from pathlib import Path
from typing import Any

import msgspec

from firmware_bridge.forward.payloads import (
    VERSION,
    Batch,
    BatchRow,
    Card,
    Durable,
    Gone,
    Now,
    Online,
    Wanted,
)
from firmware_bridge.forward.sink import LineCard

PAYLOADS: tuple[type[msgspec.Struct], ...] = (
    Card, LineCard, Online, Now, Batch, BatchRow, Gone, Durable, Wanted,
)  # fmt: skip
BEGIN, END = "<!-- payloads -->", "<!-- /payloads -->"


def json_schema() -> dict[str, Any]:
    """JSON Schema of every payload under `$defs`."""
    _, parts = msgspec.json.schema_components(PAYLOADS, ref_template="#/$defs/{name}")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"LastLitre payloads, version {VERSION}",
        "$defs": parts,
    }


def tables() -> str:
    """A table of fields for every payload, with what it says of itself."""
    parts = json_schema()["$defs"]
    return "\n\n".join(_table(kind, parts[kind.__name__]) for kind in PAYLOADS)


def with_tables(text: str) -> str:
    """A document with the tables between its marks brought up to date."""
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}\n\n{tables()}\n\n{END}{rest.split(END)[1]}"


def _table(kind: type[msgspec.Struct], part: dict[str, Any]) -> str:
    needed = set(part.get("required", ()))
    lines = [
        f"### {kind.__name__}",
        "",
        cleandoc(str(part["description"])),
        "",
        "| field | type | |",
    ]
    lines.append("|---|---|---|")
    for name, field in part["properties"].items():
        note = "" if name in needed else f"may be absent: {json.dumps(field.get('default'))}"
        lines.append(f"| `{name}` | {_type(field)} | {note} |")
    return "\n".join(lines)


def _type(field: dict[str, Any]) -> str:
    if "$ref" in field:
        return str(field["$ref"]).rsplit("/", 1)[1]
    if "prefixItems" in field:
        return "pair of " + " and ".join(_type(item) for item in field["prefixItems"])
    if "anyOf" in field:
        return " or ".join(_type(part) for part in field["anyOf"] if part != {"type": "null"})
    kind = str(field["type"])
    if kind == "array":
        return f"list of {_type(field['items'])}"
    if kind == "object":
        return f"{_type(field['additionalProperties'])} by name"
    return kind


def main() -> None:
    """Print the schema, or write the tables into the files named."""
    for name in sys.argv[1:]:
        path = Path(name)
        path.write_text(with_tables(path.read_text(encoding="utf-8")), encoding="utf-8")
    if not sys.argv[1:]:
        sys.stdout.write(json.dumps(json_schema(), indent=2) + "\n")


if __name__ == "__main__":
    main()
