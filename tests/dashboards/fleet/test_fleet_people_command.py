"""`lastlitre fleet people`, and the pages of a fleet file, from nobody to the first sign-in."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner, Result

from dashboards.cli import main
from dashboards.fleet.serving import outside_address, serve_fleet
from firmware_bridge.fleet.config import FleetPage, load_fleet
from firmware_bridge.fleet.records.engine import open_records
from tests.dashboards.access.served import form_of

FILE = """
[company]
name = "Northgate Water Care"
[broker]
host = "127.0.0.1"
[page]
host = "0.0.0.0"
port = 0
"""


@pytest.fixture
def fleet_file(tmp_path: Path) -> Path:
    """A fleet file with nothing behind it yet."""
    path = tmp_path / "fleet.toml"
    path.write_text(FILE)
    return path


def run(*words: str) -> Result:
    """The command as a person types it."""
    return CliRunner().invoke(main, ["fleet", "people", *words])


def test_first_person_is_let_in_from_the_machine(fleet_file: Path) -> None:
    """A link, once; the list knows them; a second of the same login is refused."""
    nobody = run(str(fleet_file))
    invited = run(str(fleet_file), "invite", "Ada", "--role", "owner", "--name", "Ada Marsh")
    twice = run(str(fleet_file), "invite", "ada", "--role", "owner")
    everybody = run(str(fleet_file))

    assert "invite LOGIN --role owner" in nobody.output
    assert re.search(r"/invited\?login=ada&code=[\w-]{20,}", invited.output)
    assert twice.exit_code == 2
    assert "This login is taken." in twice.output
    assert everybody.output == "ada: owner\n"


def test_roles_ends_and_erasure_from_the_machine(fleet_file: Path) -> None:
    """The last owner stays; a customer's person needs a customer."""
    file = str(fleet_file)
    run(file, "invite", "ada", "--role", "owner")
    last = run(file, "end", "ada")
    customer = run(file, "invite", "eve", "--role", "customer")
    run(file, "invite", "bo", "--role", "technician")
    assert run(file, "role", "bo", "--role", "dispatcher").exit_code == 0
    again = run(file, "again", "bo")
    assert run(file, "erase", "bo").exit_code == 0
    nobody = run(file, "end", "bo")

    assert "last owner" in last.output
    assert "whose sites" in customer.output
    assert "/invited?login=bo" in again.output
    assert "nobody called bo" in nobody.output
    assert "bo" not in run(file).output.replace("nobody", "")


async def test_pages_keep_to_this_machine_until_somebody_was_let_in(fleet_file: Path) -> None:
    """Stated for the network, shown on loopback alone, with the way to mend it."""
    told: list[str] = []
    stop, shown = asyncio.Event(), asyncio.Event()

    def say(sentence: str) -> None:
        told.append(sentence)
        if "The pages:" in sentence:
            shown.set()

    with open_records(f"sqlite:///{fleet_file.with_suffix('.sqlite')}") as records:
        serving = asyncio.create_task(serve_fleet(records, load_fleet(fleet_file), stop, say))
        await asyncio.wait_for(shown.wait(), 20)
        found = re.search(r"http://127\.0\.0\.1:\d+", told[-1])
        assert found is not None
        async with httpx.AsyncClient(base_url=found[0], timeout=20) as client:
            page = await _when_it_listens(client)
            closed = await client.get("/due")
        stop.set()
        await serving

    assert "Nobody has been let in yet" in told[0]
    assert "lastlitre fleet people" in page.text
    assert closed.status_code == 303
    with pytest.raises(AssertionError):
        form_of(page.text)


async def _when_it_listens(client: httpx.AsyncClient) -> httpx.Response:
    for _ in range(400):
        try:
            return await client.get("/sign-in")
        except httpx.ConnectError:
            await asyncio.sleep(0.05)
    raise AssertionError("the pages do not answer")


@pytest.mark.parametrize(
    ("page", "address"),
    [
        (FleetPage(), "http://127.0.0.1:8430"),
        (FleetPage(names=("fleet.lan",)), "http://fleet.lan:8430"),
        (FleetPage(names=("fleet.lan",), proxies=("10.0.0.1",)), "https://fleet.lan"),
    ],
)
def test_links_for_others_begin_with_a_name_they_can_reach(page: FleetPage, address: str) -> None:
    """The first name that is stated; behind a proxy by https."""
    assert outside_address(page, "http://127.0.0.1:8430") == address
