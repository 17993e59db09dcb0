"""The fleet file: every fault named with its place and the mend; the sample has none."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from analytics.errors import ConfigError
from dashboards.cli import main
from firmware_bridge.fleet.config import load_fleet, sample_text

GOOD = '[company]\nname = "Northgate Water Care"\n[broker]\nhost = "127.0.0.1"\n'


def written(folder: Path, text: str) -> Path:
    """A fleet file with this text."""
    path = folder / "fleet.toml"
    path.write_text(text)
    return path


def faults(folder: Path, text: str) -> tuple[str, ...]:
    """The faults of a text."""
    with pytest.raises(ConfigError) as caught:
        load_fleet(written(folder, text), {})
    return caught.value.faults


def test_sample_has_no_fault(tmp_path: Path) -> None:
    """The commented sample can be used as it is."""
    found = load_fleet(written(tmp_path, sample_text()))
    assert found.company == "Northgate Water Care"
    assert found.records_url == f"sqlite:///{tmp_path / 'fleet.sqlite'}"


def test_little_is_enough(tmp_path: Path) -> None:
    """A company and a broker; records lie beside the file, sites wait to be adopted."""
    found = load_fleet(written(tmp_path, GOOD))
    assert (found.broker.host, found.broker.port) == ("127.0.0.1", 1883)
    assert not found.adopt_newcomers
    assert found.series is None


def test_every_fault_is_named_at_once(tmp_path: Path) -> None:
    """Place, value and mend of each, in one go."""
    text = '[company]\nnewcomers = "adpot"\n[brocker]\nhost = "x"\n[records]\nurl = "mysql://x/y"\n'
    named = faults(tmp_path, text)

    assert len(named) == 5
    assert any("[company] name: missing" in f and "Northgate" in f for f in named)
    assert any("newcomers" in f and 'Did you mean "adopt"?' in f for f in named)
    assert any("brocker" in f and 'Did you mean "broker"?' in f for f in named)
    assert any("[broker]: this table is missing" in f for f in named)
    assert any("[records] url" in f and "PostgreSQL" not in f and "path" in f for f in named)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('[records]\nurl = "postgresql+psycopg://a:geheim@h/d"', "a secret in an address"),
        ('[records]\npath = "a"\nurl = "postgresql+psycopg://a@h/d"', "url is stated too"),
        ('[records]\npassword_env = "X"', "there is no url"),
        ('[page]\ntls_cert = "a.pem"', "only half of what https needs"),
        ("[records]\nkeep_readings = 90", "a bare number without a unit"),
        ('[series]\nbucket = "x"', "[series] url: missing"),
        ("nonsense = 1", "not TOML"),
    ],
)
def test_what_cannot_be_is_said(tmp_path: Path, more: str, words: str) -> None:
    """One fault each, no secret in it."""
    (fault,) = faults(tmp_path, GOOD + more + "\n" if "[" in more else GOOD + "name = = 1\n")
    assert words in fault
    assert "geheim" not in fault


def test_passwords_come_from_a_closed_file(tmp_path: Path) -> None:
    """The database's password stands in a file that nobody else can open."""
    secret = tmp_path / "pw"
    secret.write_text("geheim\n")
    secret.chmod(0o600)
    more = '[records]\nurl = "postgresql+psycopg://a@h/d"\npassword_file = "pw"\n'
    found = load_fleet(written(tmp_path, GOOD + more))

    assert found.records_password == "geheim"
    assert "geheim" not in repr(found)


def test_command_names_faults_and_writes_a_sample(tmp_path: Path) -> None:
    """A file in the place of a command runs it; a fault is exit code 2."""
    path = written(tmp_path, "[company]\n")
    done = CliRunner().invoke(main, ["fleet", str(path)])
    assert done.exit_code == 2
    assert "[broker]: this table is missing" in done.output
    fresh = tmp_path / "new.toml"
    assert CliRunner().invoke(main, ["fleet", "sample", str(fresh)]).exit_code == 0
    assert fresh.read_text() == sample_text()
