"""Commands about logins and tokens say what is wrong, and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dashboards.cli import main
from firmware_bridge.fleet.config import load_fleet
from firmware_bridge.fleet.identity.tokens import bearer_of
from firmware_bridge.fleet.records.engine import open_records


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, ["fleet", *map(str, words)])


@pytest.fixture
def fleet_file(tmp_path: Path) -> Path:
    """A fleet file as the command for the broker writes it; no broker runs."""
    path = tmp_path / "fleet.toml"
    done = _run("broker", path, tmp_path / "broker", "--port", 1)
    assert done.exit_code == 0, done.output
    return path


def test_the_broker_command_writes_a_fleet_file_that_goes_with_it(fleet_file: Path) -> None:
    """Workers and keeper have their logins; without a certificate it keeps to this machine."""
    file = load_fleet(fleet_file)

    assert (file.broker.user, file.broker.port) == ("worker", 1)
    assert file.joining is not None
    assert (file.joining.host, file.joining.port, file.joining.tls) == ("127.0.0.1", 1, False)
    assert file.joining.keeper.user == "keeper"
    before = fleet_file.read_text()
    shown = _run("broker", fleet_file, fleet_file.parent / "broker", "--port", 2)
    assert "port = 2" in shown.output
    assert "logins are kept" in shown.output
    assert fleet_file.read_text() == before


def test_a_code_is_given_alone_and_its_use_is_said_beside(fleet_file: Path) -> None:
    """Standard output holds the code and nothing else, so that it can be sent on."""
    given = _run("enrol", fleet_file, "harbour-steps")

    assert given.exit_code == 0
    assert len(given.stdout.strip()) == 19
    assert f"lastlitre join SITE.toml {given.stdout.strip()} http://" in given.stderr


def test_tokens_are_made_listed_and_revoked_for_a_person(fleet_file: Path) -> None:
    """Shown once, then only what it is for; a revoked one works no more."""
    assert _run("people", fleet_file, "invite", "ada", "--role", "owner").exit_code == 0
    text = _run("token", fleet_file, "new", "ada", "--for", "stock list").stdout.strip()
    listed = _run("token", fleet_file, "list", "ada").stdout
    file = load_fleet(fleet_file)
    with open_records(file.records_url) as records, records.read() as connection:
        bearer = bearer_of(connection, text, 0)

    assert bearer is not None
    assert not bearer.may_change
    assert text not in listed
    assert listed.startswith("1: stock list; reads; until ")
    assert "never used; works\n" in listed
    assert _run("token", fleet_file, "revoke", "ada", 1).exit_code == 0
    assert "works no more" in _run("token", fleet_file, "list", "ada").stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("enrol", "FILE", " "), "cannot be the id of a site"),
        (("revoke", "FILE", "harbour-steps"), "No box speaks for 'harbour-steps'"),
        (("token", "FILE", "new", "nobody"), "There is nobody called nobody"),
        (("broker", "FILE", "b", "--cert", "a.pem"), "belong together"),
        (("broker", "FILE", "b", "--run-as", "no-such-user"), "no user 'no-such-user'"),
    ],
)
def test_what_cannot_be_done_is_said(
    fleet_file: Path, words: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sentence and exit code 2, never a trace."""
    monkeypatch.chdir(fleet_file.parent)
    done = _run(*(str(fleet_file) if word == "FILE" else word for word in words))

    assert done.exit_code == 2
    assert said in done.stderr


def test_without_its_table_no_site_joins(tmp_path: Path) -> None:
    """The sentence names the command that writes the table."""
    path = tmp_path / "fleet.toml"
    path.write_text('[company]\nname = "A"\n[broker]\nhost = "127.0.0.1"\n')
    done = _run("enrol", path, "harbour-steps")

    assert done.exit_code == 2
    assert "lastlitre fleet broker" in done.stderr
