"""The commented sample, written from the definitions that also read a file."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path

import msgspec
import pytest

from firmware_bridge.config import Fault, Site, check, registry, sample_text
from firmware_bridge.config.box_tables import MeterTable, NotifierTable, Page, SinkTable, Store
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.kinds import ALL_KINDS
from firmware_bridge.config.readers import Place
from firmware_bridge.config.reading import Field, fields_of, table_within, value_of
from firmware_bridge.config.tables import LimitsTable, LineTable, OpeningTable, SiteTable
from tests.firmware_bridge.config.site_files import compiled

OPTIONS = {
    f"{family} {word}": registry.options_of(family, word)
    for family in ("meter", "sink", "notifier")
    for word in registry.known(family)  # type: ignore[arg-type]
}
TABLES: dict[str, type[msgspec.Struct]] = {
    "site": SiteTable,
    "opening": OpeningTable,
    "line": LineTable,
    "limits": LimitsTable,
    "meter": MeterTable,
    "sink": SinkTable,
    "notifier": NotifierTable,
    "page": Page,
    "store": Store,
    **{kind: entry for kind, (entry, _) in DATED.items()},
    **{name: options for name, options in OPTIONS.items() if options is not None},
    **{
        f"{name}.{f.key}": inside
        for name, options in OPTIONS.items()
        if options is not None
        for f in fields_of(options)
        if (inside := table_within(f.type)) is not None
    },
}
FIELDS = [
    pytest.param(f, id=f"{name}.{f.key}")
    for name, table in TABLES.items()
    for f in fields_of(table)
    if table_within(f.type) is None
]


def uncommented() -> str:
    """The sample with every block switched on that is switched off as a whole."""
    lines = sample_text().splitlines()
    blocks = "\n".join(lines).split("\n\n")
    on = [re.sub(r"(?m)^# ", "", b) if "\n# [" in b or b.startswith("# [") else b for b in blocks]
    return "\n\n".join(on)


def test_sample_has_no_fault(tmp_path: Path) -> None:
    """A person may start from it as it is."""
    path = tmp_path / "sample.toml"
    path.write_text(sample_text(), encoding="utf-8")

    assert check(path) == []


def test_sample_holds_every_table_and_key() -> None:
    """Nothing that a file may say is missing, and each stands below its explanation."""
    text = sample_text()

    for table in TABLES.values():
        for field in fields_of(table):
            if table_within(field.type) is None:
                assert re.search(rf"(?m)^(# )?{field.key} = ", text), field.key
    for word in DATED:
        assert f'# kind = "{word}"' in text
    for kind in ALL_KINDS:
        assert kind.written[0] in text


def test_sample_with_every_block_switched_on_has_only_wanted_faults() -> None:
    """Every block is right by itself; together they only say two things twice."""
    found = compiled(uncommented())

    assert isinstance(found, list)
    assert {(f.table, f.key) for f in found} <= {
        ("[[meter]] node", "id"),
        ("[[meter]] node", "flow_pulses"),
        ("[[meter]] node", "password_file"),
        ("[[meter]] node", "ca_file"),
        ("[[sink]] stream", "id"),
        ("[[sink]] stream", "user_env"),
        ("[[sink]] stream", "token_file"),
        ("[[sink]] stream", "password_file"),
        ("[[sink]] stream", "ca_file"),
        ("[[notifier]] owner", "id"),
        ("[[notifier]] owner", "secret_file"),
        ("[[notifier]] owner", "password_file"),
        ("[[notifier]] owner", "ca_file"),
    }


@pytest.mark.parametrize("field", FIELDS)
def test_example_of_every_key_is_read(field: Field) -> None:
    """An example is right, and where there is a default it is that default."""
    value = tomllib.loads(f"x = {field.example}")["x"]
    faults: list[Fault] = []

    read = value_of(field, value, Place(file="sample", zone=dt.UTC), faults)

    assert faults == []
    if field.default not in (None, "", (), "UTC"):
        assert read == pytest.approx(field.default)


def test_every_key_is_explained() -> None:
    """Weekdays explain themselves."""
    silent = [
        f"{name}.{f.key}"
        for name, table in TABLES.items()
        if name != "opening"
        for f in fields_of(table)
        if not f.description
    ]

    assert silent == []


def test_switched_off_lines_are_the_defaults() -> None:
    """Switching on one line that shows a default changes nothing."""
    text = sample_text()
    plain = compiled(text)
    assert isinstance(plain, Site)
    for line in ('litres_low_share = "15 %"', 'days_low = "14 day"', 'data_gap = "15 min"'):
        assert f"# {line}" in text
        switched = text.replace("# [line.limits]", "[line.limits]").replace(f"# {line}", line)
        assert compiled(switched) == plain
