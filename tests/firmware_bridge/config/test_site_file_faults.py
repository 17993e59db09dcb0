"""Faults of a site file: each names file, table, key, value, what is allowed and the mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware_bridge.config import check
from firmware_bridge.config.fault import Fault
from tests.firmware_bridge.config.site_files import GOOD, compiled, edited

LINE = "[[line]] bar"
NODE = "[[meter]] node"

FAULTS = [
    # values with a unit
    ('"3600 dH*L"', "3600", LINE, "capacity = 3600", "a bare number", '"3600 dH*L"'),
    ('"30 %"', "30", LINE, "bypass = 30", "a bare number", 'Write "30 %"'),
    ('"30 %"', "0.3", LINE, "bypass = 0.3", "a bare number", "0 to 95 %"),
    ('"30 %"', '"0.3"', LINE, 'bypass = "0.3"', "the unit is missing", '"0.3 %"'),
    ('"30 %"', '"97 %"', LINE, 'bypass = "97 %"', "that cannot be", "0 to 95 %"),
    ('"30 %"', '"-1 %"', LINE, 'bypass = "-1 %"', "that cannot be", "0 to 95 %"),
    ('"30 %"', '"30,5 %"', LINE, "bypass", "a decimal comma", "Write a point"),
    ('"30 %"', "true", LINE, "bypass = true", "not a share", '"30 %"'),
    ('"30 %"', '["30 %"]', LINE, 'bypass = ["30 %"]', "not a share", '"30 %"'),
    ('"3600 dH*L"', '"3600 L"', LINE, 'capacity = "3600 L"', "does not measure", '"3600 dH*L"'),
    ('"3600 dH*L"', '"3600 dh*L"', LINE, "capacity", "does not measure", 'Did you mean "dH*L"?'),
    ('"3600 dH*L"', '"0 dH*L"', LINE, "capacity", "that cannot be", "dH*L"),
    ('"1380 pulse/L"', '"1380 puls/L"', LINE, "k_factor", "no unit known", '"pulse/L"?'),
    ('"1380 pulse/L"', '"0 pulse/L"', LINE, "k_factor", "that cannot be", "pulse/L"),
    ('"12 month"', '"12 moon"', LINE, "time_limit", "no unit known", '"month"?'),
    ('"12 month"', '"200 year"', LINE, "time_limit", "that cannot be", "day"),
    ('"2 L/min"', '"2 L"', LINE, "rated_flow", "does not measure a flow", '"2 L/min"'),
    ('"8 dH"', '"8 ppm"', "[line.limits] of bar", "outlet_hardness_high", "no unit", "as CaCO3"),
    ('"8 dH"', '"8 mg/L"', "[line.limits] of bar", "outlet_hardness_high", "does not", "as CaCO3"),
    ('"10 min"', '"10"', "[line.limits] of bar", "data_gap", "the unit is missing", '"15 min"'),
    ('"0.98 1/cm"', "0.98", NODE, "outlet_cell_constant", "a bare number", '"0.98 1/cm"'),
    # keys and words
    ("bypass =", "bypas =", LINE, "bypas", "no such key", 'Did you mean "bypass"?'),
    ("k_factor", "K-Factor", LINE, "K-Factor", "no such key", 'Did you mean "k_factor"?'),
    ("litres_low =", "liters_low =", "[line.limits] of bar", "liters_low", "no such key", "litres"),
    ('"hydrogen"', '"hydrgen"', LINE, 'medium = "hydrgen"', "not one of the words", '"hydrogen"?'),
    (
        '"hydrogen"',
        "7",
        LINE,
        "medium = 7",
        "not of the sort wanted",
        "carbon, hydrogen, magnesium, membrane, mixed, polyphosphate, sodium",
    ),
    ('medium = "hydrogen"\n', "", LINE, "medium", "missing", 'Add medium = "hydrogen"'),
    ('["outlet", "inlet"]', '["outlet", "inlt"]', LINE, "probes", "not of the sort", '"inlet"'),
    ('["outlet", "inlet"]', '"outlet"', LINE, "probes", "not of the sort", '["outlet", "inlet"]'),
    ('["outlet", "inlet"]', '["outlet", "outlet"]', LINE, "probes", "stands twice", "Name each"),
    ('id = "bar"', 'id = "The Bar"', "[[line]] The Bar", "id", "not of the form", "small letters"),
    ("Harbour Steps", "x" * 300, "[site]", "name", "too long", "200 characters"),
    ('"Harbour Steps"', '""', "[site]", 'name = ""', "not a text", "in quotes"),
    ("Europe/Berlin", "Europe/Berlín", "[site]", "time_zone", "no such time", '"Europe/Berlin"?'),
    ("Europe/Berlin", "UTC+99:00", "[site]", "time_zone", "no such time zone", "UTC+05:30"),
    ('"07:00-18:30"', '"7-18"', "[site.opening]", 'monday = "7-18"', "not opening", '"closed"'),
    ('"07:00-18:30"', '"07:00-24:30"', "[site.opening]", "monday", "cannot be", "closed"),
    ('"closed"', '"09:00-09:00"', "[site.opening]", "sunday", "cannot be", 'Write "closed"'),
    ("monday", "moonday", "[site.opening]", "moonday", "no such key", 'Did you mean "monday"?'),
    # tables
    ("[page]", "[pages]", "", "pages", "no such table", 'Did you mean "page"?'),
    ("[site]\n", "bypass = 3\n[site]\n", "", "bypass = 3", "outside any table", "site, line"),
    ("[page]", "[[page]]", "[page]", "", "not a table", "Write the heading [page]"),
    ("[site.opening]", "[sight.opening]", "", "sight", "no such table", 'Did you mean "site"?'),
    # meters
    ('"node-serial"', '"node-cereal"', NODE, "driver", "not one of the words", '"node-serial"?'),
    ('driver = "node-serial"\n', "", NODE, "driver", "missing", "node-serial"),
    ('port = "/dev/ttyUSB0"\n', "", NODE, "port", "missing", "Add port ="),
    ("57600", "5", NODE, "baud = 5", "whole number", "300 to 4000000"),
    ("57600", "true", NODE, "baud = true", "whole number", "300 to 4000000"),
    ("57600", '57600\nline = "baar"', NODE, 'line = "baar"', "no such line", '"bar"?'),
    # sinks
    (
        '"broker.lan"',
        '"broker.lan:1884"',
        "[[sink]] 1",
        "host",
        "a port in the host",
        "port = 1884",
    ),
    ('"broker.lan"', '"mqtt://b"', "[[sink]] 1", "host", "not a host name", "broker.lan"),
    ("tls = true", "tls = 1", "[[sink]] 1", "tls = 1", "not of the sort wanted", "true or false"),
    ('kind = "mqtt"', 'kind = "mtqq"', "[[sink]] 1", "kind", "not one of the words", '"mqtt"?'),
    ("http://127", "127", "[[sink]] 2", "url", "not a web address", "http://"),
    ("tls = true", 'ca_file = "ca.pem"', "[[sink]] 1", "ca_file", "not encrypted", "tls = true"),
    (
        'token_env = "BAR_TOKEN"',
        'token_env = "BAR_TOKEN"\ntoken_file = "t"',
        "[[sink]] 2",
        "token_file",
        "token_env is stated too",
        "Keep token_env or token_file",
    ),
    # page and store
    ("port = 0", "port = 99999", "[page]", "port = 99999", "whole number", "0 to 65535"),
    ("port = 0", 'port = "0"', "[page]", 'port = "0"', "whole number", "0 to 65535"),
    ('"records/bar.sqlite"', "7", "[store]", "path = 7", "not a path", "in quotes"),
    # dated entries
    ('"drop-test"', '"drip-test"', "[[dated]] 2", "kind", "not one of the words", '"drop-test"?'),
    ('"raw"', '"rawr"', "[[dated]] 2 (drop-test)", "point", "not one of the words", '"raw"?'),
    ("2026-02-02T08:30:00Z", '"2026-02-02"', "(drop-test)", "at", "not a date", "quotes away"),
    ("2026-02-02T08:30:00Z", "2026-02-02", "(drop-test)", "at", "a date without a time", "T12:00"),
    ("2026-02-02T08:30:00Z", "1926-02-02T08:30:00Z", "(drop-test)", "at", "cannot be", "2000"),
    ("2026-02-02T08:30:00Z", "08:30:00", "(drop-test)", "at = 08:30:00", "not a date", "2024"),
    ('"18 dH"', "18", "(drop-test)", "hardness = 18", "a bare number", '"18 dH"'),
    ('"new"', '"nearly new"', "(cartridge-fitted)", "litres_before", "not a number", '"unknown"'),
    ('"new"', "0", "(cartridge-fitted)", "litres_before = 0", "a bare number", '"new"'),
    ("litres_before", "liters_before", "(cartridge-fitted)", "liters_before", "no such key", "lit"),
    # tables against each other
    (
        "bypass =",
        'rated_life = "9 L"\nbypass =',
        LINE,
        "rated_life",
        "capacity is stated too",
        "one",
    ),
    (
        'capacity = "3600 dH*L"',
        'rated_hardness = "9 dH"',
        LINE,
        "rated_hardness",
        "no rated",
        "Add",
    ),
    ('capacity = "3600 dH*L"', 'rated_bypass = "9 %"', LINE, "rated_bypass", "no rated", "Add"),
    ('"hydrogen"', '"carbon"', LINE, "capacity", "carbon takes up no hardness", "rated_life"),
    ("bypass =", "cartridges = 2\nbypass =", LINE, "cartridges", "arrangement single", "parallel"),
    ("bypass =", 'start = "new"\nbypass =', LINE, "start", "says this already", "take start away"),
    ('hardness = "18 dH"\nalkalinity = "16 dH"', "", "(drop-test)", "hardness", "no value", "Add"),
]


@pytest.mark.parametrize(("old", "new", "table", "entry", "problem", "mend"), FAULTS)
def test_fault_names_file_table_key_value_and_mend(
    old: str, new: str, table: str, entry: str, problem: str, mend: str
) -> None:
    """One sentence says where it is, what stands there, what is wrong and how it is mended."""
    found = compiled(edited(old, new))

    assert isinstance(found, list)
    sentences = [str(f) for f in found]
    fitting = [s for s in sentences if s.startswith("bar.toml: ") and table in s and entry in s]
    assert any(problem in s and mend in s for s in fitting), "\n".join(sentences)


@pytest.mark.parametrize(("old", "new", "table", "entry", "problem", "mend"), FAULTS)
def test_one_mistake_is_one_or_two_faults(
    old: str, new: str, table: str, entry: str, problem: str, mend: str
) -> None:
    """A mistake does not breed faults elsewhere; a mistyped key may also be missing."""
    found = compiled(edited(old, new))

    assert isinstance(found, list)
    assert 1 <= len(found) <= 2, "\n".join(map(str, found))


MORE = """
[[line]]
id = "bar"
medium = "sodium"
capacity = "1000 dH*L"

[[meter]]
driver = "node-serial"
id = "second"
line = "bar"
port = "/dev/ttyUSB0"

[[dated]]
kind = "closure"
at = 2026-03-09T07:00:00
until = 2026-03-02T07:00:00
line = "bar"

[[dated]]
kind = "cross-zero"
at = 2026-03-09T07:00:00
line = "bar"
outlet = "557 uS/cm"
outlet_temperature = "15 °C"
inlet = "550 uS/cm"

[[dated]]
kind = "utility-report"
at = 2026-03-09T07:00:00
"""


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[[line]] bar id = "bar"', '"bar" stands twice'),
        ("[[meter]] second baud", "meter node is on this port: two paces on one port"),
        ("(closure) until", "ends before it begins"),
        ("(cross-zero) inlet", "only half of the inlet's reading"),
        ("(utility-report) hardness", "no value is stated"),
        ("(utility-report) line", "missing. Allowed: bar"),
    ],
)
def test_tables_are_held_against_each_other(table: str, said: str) -> None:
    """Two tables that are right alone can be wrong together."""
    found = compiled(GOOD + MORE)

    assert isinstance(found, list)
    assert any(table in str(f) and said in str(f) for f in found), "\n".join(map(str, found))


def test_all_faults_are_listed_at_once() -> None:
    """A person mends the file in one go, not fault by fault."""
    text = GOOD
    for old, new in (
        ('"30 %"', "30"),
        ('"hydrogen"', '"hydrgen"'),
        ("57600", "5"),
        ('"mqtt"', '"mtqq"'),
        ("port = 0", "port = -1"),
        ('"raw"', '"rew"'),
    ):
        text = text.replace(old, new)
    found = compiled(text)

    assert isinstance(found, list)
    assert [(f.table, f.key) for f in found] == [
        ("[[line]] bar", "medium"),
        ("[[line]] bar", "bypass"),
        ("[[meter]] node", "baud"),
        ("[[sink]] 1", "kind"),
        ("[[dated]] 2 (drop-test)", "point"),
        ("[page]", "port"),
    ]


def test_good_file_has_no_fault() -> None:
    """Nothing is found where nothing is wrong."""
    assert not isinstance(compiled(GOOD), list)


def the_fault(path: Path) -> Fault:
    (fault,) = check(path)
    assert fault.file == str(path)
    return fault


@pytest.mark.parametrize(
    ("data", "problem", "mend"),
    [
        (b"", "the file is empty", "lastlitre new"),
        (b" \n\n\t", "the file is empty", "lastlitre new"),
        (b"[site]\nid = 'b\xe4r'\n", "line 2 holds a byte that is not UTF-8", "UTF-8"),
        (b"\xff\xfe[\x00s\x00", "line 1 holds a byte that is not UTF-8", "UTF-8"),
        (b"[site\n", "not TOML", "quotes"),
        (b"[site]\nbypass = 30 %\n", "at line 2", "in quotes"),
        (b"[site]\nid = 'a'\nid = 'b'\n", "not TOML", "twice"),
        (b"[site]\nid = 1\x00\n", "not TOML", ""),
        (b"a = " + b"[" * 5000, "nested too deep", ""),
        (b"a = " + b"9" * 6000, "not TOML", ""),
        (b"#" * 1_000_001, "larger than a megabyte", "site file"),
    ],
)
def test_file_that_is_no_site_file_is_one_fault(
    tmp_path: Path, data: bytes, problem: str, mend: str
) -> None:
    """What cannot be read at all is said in one sentence."""
    path = tmp_path / "bar.toml"
    path.write_bytes(data)

    fault = the_fault(path)

    assert problem in fault.problem
    assert mend in fault.mend


def test_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    """Editors of some systems put a mark before the first letter."""
    path = tmp_path / "bar.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())

    assert check(path) == []


def test_missing_file_and_folder_are_faults(tmp_path: Path) -> None:
    """A path that leads to no file says so."""
    assert "no such file" in the_fault(tmp_path / "none.toml").problem
    assert "this is a folder" in the_fault(tmp_path).problem
    assert "this is not a file" in the_fault(Path("/dev/null")).problem
    assert "cannot be read" in check(Path("a\0b"))[0].problem


def test_very_long_numbers_are_faults() -> None:
    """A number of thousands of digits is shown short."""
    huge = "0x" + "f" * 9000
    found = compiled(edited("57600", huge) + f"\n[[dated]]\nkind = {huge}\n")

    assert isinstance(found, list)
    assert [f.value for f in found] == ["(a very long number)"] * 2
