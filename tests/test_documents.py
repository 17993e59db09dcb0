"""The documents say what the program does."""

from __future__ import annotations

import re
import subprocess
from importlib.util import find_spec
from pathlib import Path

import click
import pytest

from analytics.media import media
from dashboards.cli import main
from tests.names import names

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_readme_names_every_command() -> None:
    """A command that is not in the README does not exist for a new user."""
    for name in main.list_commands(click.Context(main)):
        assert f"lastlitre {name}" in README, name


def test_readme_names_every_medium() -> None:
    """Every medium stands in the table of what conductivity can see."""
    for name in media():
        assert name in README, name


def test_every_command_option_and_key_says_what_a_person_needs() -> None:
    """Each command, option, table and key of a file says what it is, days of the week aside."""
    told = {"command", "option", "site file", "fleet file", "dated entry", "state", "alarm", "API"}
    every = list(names())

    assert told <= {name.sort for name in every}
    silent = [n.name for n in every if n.sort in told and not n.says.strip()]
    assert [name for name in silent if not name.endswith("day")] == []


def test_ci_runs_the_test_command_of_the_readme() -> None:
    """CI calls exactly the README's test line."""
    assert "bash .ci/test" in README
    assert re.search(r'exec bash "\$\(dirname "\$0"\)/test"', (ROOT / ".ci/run").read_text())
    for script in ("run", "test"):
        checked = subprocess.run(["bash", "-n", str(ROOT / ".ci" / script)], check=False)
        assert checked.returncode == 0


def test_modules_of_the_commands_for_developers_are_there() -> None:
    """Every `python -m NAME` of DEVELOPERS.md is a module that can be run."""
    named = set(re.findall(r"python -m ([\w.]+)", DEVELOPERS))

    assert {"tests.check", "tests.names", "tests.bench"} <= named
    for name in sorted(named):
        found = find_spec(name)
        assert found is not None, name
        assert not found.submodule_search_locations or find_spec(f"{name}.__main__"), name


def test_the_map_of_the_house_names_what_is_there() -> None:
    """Every file and folder named in the map exists."""
    block = DEVELOPERS.split("```")[1]
    layer = ""
    for line in block.splitlines():
        if found := re.match(r"^(\w+)/ ", line):
            layer = found[1]
        elif (
            layer and layer != "tests" and (row := re.match(r"^  ((?:[\w/]+(?:\.py|/) ?)+)", line))
        ):
            for name in row[1].split():
                assert (ROOT / layer / name).exists(), f"{layer}/{name}"


@pytest.mark.timeout(120)
def test_the_table_of_checks_is_the_generated_one() -> None:
    """The table in DEVELOPERS.md is what the check values give now."""
    from tests.check_values.write import with_table

    assert with_table(DEVELOPERS) == DEVELOPERS, "run: python -m tests.check_values.write"
