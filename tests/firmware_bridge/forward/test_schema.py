"""The document of the payloads is what the program sends."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from firmware_bridge.forward import schema
from firmware_bridge.forward.lines import MEASUREMENTS
from firmware_bridge.forward.payloads import TOPICS

DOCUMENT = Path(schema.__file__).with_name("SCHEMA.md").read_text(encoding="utf-8")


def test_tables_are_the_generated_ones() -> None:
    """A field that is added to a payload is in the document, or this fails."""
    assert schema.with_tables(DOCUMENT) == DOCUMENT, "run: python -m firmware_bridge.forward.schema"


def test_every_topic_and_measurement_is_told() -> None:
    """Each kind of row has its topic and its measurement in the document."""
    for name in (*TOPICS.values(), "card", "online", "gone", "durable", "wanted", "now"):
        assert f"/{name}`" in DOCUMENT
    for name in MEASUREMENTS:
        assert f"| `{name}` |" in DOCUMENT


def test_command_prints_json_schema() -> None:
    """The schema for programs has every payload under its name."""
    done = subprocess.run(
        [sys.executable, "-m", "firmware_bridge.forward.schema"],
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(done.stdout)
    assert set(found["$defs"]) == {kind.__name__ for kind in schema.PAYLOADS}
    assert found["$defs"]["Durable"]["properties"]["up_to"]["minimum"] == 0
