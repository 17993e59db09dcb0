"""Where the page listens, and `lastlitre people` that opens it."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from dashboards.access.door import opened
from dashboards.cli import main
from firmware_bridge import config
from firmware_bridge.config.box_tables import IN_CLEAR

pytestmark = pytest.mark.timeout(120)  # scrypt takes its time, by design
SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"

[page]
port = 0
"""


@pytest.fixture
def site_file(tmp_path: Path) -> Path:
    """A site whose page keeps to this machine."""
    path = tmp_path / "site.toml"
    path.write_text(SITE)
    return path


def people(site_file: Path, *words: str, said: str = "") -> Result:
    """The command, with its standard input."""
    return CliRunner().invoke(main, ["people", str(site_file), *words], input=said)


def test_people_are_added_listed_and_removed(site_file: Path) -> None:
    """The password comes on standard input and is never shown."""
    first = people(site_file)
    added = people(site_file, "add", "Ada", said="three wet grinders\n")
    listed = people(site_file, "list")
    changed = people(site_file, "password", "ada", said="four wet grinders\n")
    removed = people(site_file, "remove", "Ada")

    assert first.output.startswith("Nobody.")
    assert added.output == "Ada can sign in.\n"
    assert listed.output == "Ada\n"
    assert changed.output == "Ada can sign in.\n"
    assert removed.output == "Ada can no longer sign in.\n"
    assert (site_file.parent / "harbour-steps.people").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("words", "said", "told"),
    [
        (("add",), "", "Whom?"),
        (("add", "Ada"), "", "No password"),
        (("add", "Ada"), "short\n", "at least 10"),
        (("remove", "Bo"), "", "nobody called Bo"),
    ],
)
def test_what_cannot_be_is_told_with_a_mend(
    site_file: Path, words: tuple[str, ...], said: str, told: str
) -> None:
    """Exit code 2 and a sentence."""
    result = people(site_file, *words, said=said)

    assert result.exit_code == 2
    assert told in result.output


def with_page(site_file: Path, entries: str) -> Path:
    """The site with more entries under [page]."""
    site_file.write_text(SITE + entries)
    return site_file


def test_page_keeps_to_this_machine_until_somebody_has_a_password(site_file: Path) -> None:
    """Whatever host is stated; then it listens there."""
    with_page(site_file, 'host = "0.0.0.0"\n')
    before = opened(config.load(site_file))
    people(site_file, "add", "Ada", said="three wet grinders\n")
    after = opened(config.load(site_file))
    stated, heard = (o.listener.getsockname()[0] for o in (after, before))
    before.listener.close()
    after.listener.close()

    assert (heard, stated) == ("127.0.0.1", "0.0.0.0")
    assert "lastlitre people" in before.remarks[0]
    assert not before.access.rules.by_address
    assert after.access.rules.by_address
    assert after.remarks == ()


def test_logins_in_clear_take_the_whole_sentence(site_file: Path) -> None:
    """Any other value is a fault that shows the sentence; with it the start says what it means."""
    with_page(site_file, "logins_in_clear = true\n")
    fault = config.check(site_file)
    with_page(site_file, f'host = "0.0.0.0"\nlogins_in_clear = "{IN_CLEAR}"\n')
    people(site_file, "add", "Ada", said="three wet grinders\n")
    allowed = opened(config.load(site_file))
    allowed.listener.close()

    assert IN_CLEAR in str(fault[0])
    assert allowed.access.rules.in_clear
    assert "in clear" in allowed.remarks[0]


@pytest.mark.parametrize(
    ("entries", "told"),
    [
        ('tls_cert = "a.crt"\n', "only half of what https needs"),
        ('proxies = ["bar.lan"]\n', "not an address in numbers"),
        ('proxies = "10.0.0.5"\n', "not a list"),
        ('names = ["http://bar.lan"]\n', "not a host name"),
        ('view = "nobody"\n', "not one of the words known"),
    ],
)
def test_page_entries_that_cannot_be_are_faults(site_file: Path, entries: str, told: str) -> None:
    """Each with what is allowed."""
    faults = config.check(with_page(site_file, entries))

    assert [told in str(fault) for fault in faults] == [True]


def test_people_is_a_command_with_help() -> None:
    """It says what each word does."""
    text = CliRunner().invoke(main, ["people", "--help"]).output

    assert isinstance(main, click.Group)
    for word in ("list", "add", "password", "remove"):
        assert word in text
