"""People: invited, given a role, ended, erased; passwords, lock-out, the audit under seal."""

from __future__ import annotations

import re

import httpx
import msgspec
from sqlalchemy import delete, select, update

from analytics.samples import DAY_MS
from dashboards.access.access import form_token
from firmware_bridge.fleet.records import audit_rows, people_rows, tables
from tests.dashboards.access.served import form_of, sign_in
from tests.dashboards.fleet.stocked import OURS, PASSWORD, Stock, client_of, post, signed_in

NEW = "slow drip at dawn"


async def invited(fleet: Stock, client: httpx.AsyncClient, **fields: str) -> str:
    """Let somebody in; the link's address without its host."""
    wanted = {"login": "Cleo", "name": "Cleo Park", "role": "technician", **fields}
    answer = await post(client, "/people", **wanted)
    found = re.search(r"https://fleet\.example(/invited\?[^<]+)<", answer.text)
    assert found is not None, answer.text
    return found.group(1).replace("&amp;", "&")


async def choose(client: httpx.AsyncClient, link: str, password: str = NEW) -> httpx.Response:
    """Open the link and choose a password."""
    page = await client.get(link)
    code = re.search(r'name="code" value="([^"]*)"', page.text)
    login = re.search(r'name="login" value="([^"]*)"', page.text)
    assert code is not None
    assert login is not None
    fields = {"form": form_of(page.text), "code": code[1], "login": login[1], "new": password}
    return await client.post("/invited", data=fields)


async def test_invited_person_chooses_a_password_and_signs_in(fleet: Stock) -> None:
    """The link works once; the login is the same whatever its capitals."""
    app = fleet.app()
    async with signed_in(app, "owner") as owner, client_of(app) as cleo:
        link = await invited(fleet, owner)
        chosen = await choose(cleo, link)
        again = await choose(cleo, link)
        inside = await sign_in(cleo, "CLEO", NEW)
        page = await cleo.get("/due")

    assert [chosen.status_code, again.status_code, inside.status_code] == [303, 422, 303]
    assert "Signed in as Cleo Park." in page.text


async def test_no_password_is_taken_over_a_network_in_clear(fleet: Stock) -> None:
    """Neither at the sign-in page nor with an invitation; the link is good afterwards."""
    app = fleet.app(by_address=True, names=("fleet.lan",))
    transport = httpx.ASGITransport(app=app, client=("10.0.0.9", 40_000))
    url = "http://fleet.lan"
    async with (
        signed_in(app, "owner") as owner,
        httpx.AsyncClient(transport=transport, base_url=url, headers={"origin": url}) as far,
        client_of(app) as near,
    ):
        link = await invited(fleet, owner)
        page = await far.get(link)
        await far.get("/sign-in")
        code = link.split("code=")[1]
        token = form_token(far.cookies["lastlitre-form"])
        fields = {"form": token, "login": "cleo", "code": code, "new": NEW}
        refused = await far.post("/invited", data=fields)
        chosen = await choose(near, link)

    assert 'name="new"' not in page.text
    assert refused.status_code == 422
    assert "https" in refused.text
    assert chosen.status_code == 303


async def test_invitation_runs_out(fleet: Stock) -> None:
    """After seven days the link is worth nothing."""
    app = fleet.app()
    async with signed_in(app, "owner") as owner, client_of(app) as cleo:
        link = await invited(fleet, owner)
        fleet.now_ms += 7 * DAY_MS
        late = await choose(cleo, link)

    assert late.status_code == 422
    assert "run out" in late.text


async def test_neither_code_nor_password_is_kept(fleet: Stock) -> None:
    """The records hold digests and keys only."""
    app = fleet.app()
    async with signed_in(app, "owner") as owner, client_of(app) as cleo:
        link = await invited(fleet, owner)
        await choose(cleo, link)
    raw = b"".join(path.read_bytes() for path in fleet.sessions.parent.iterdir() if path.is_file())
    code = link.split("code=")[1]

    assert code.encode() not in raw
    assert NEW.encode() not in raw
    assert PASSWORD.encode() not in raw


async def test_faults_of_an_invitation_are_told_and_nothing_is_kept(fleet: Stock) -> None:
    """Every fault at once; what was typed stands there still."""
    before = fleet.count("people")
    async with signed_in(fleet.app(), "owner") as owner:
        answer = await post(owner, "/people", login="owner", name="  ", role="king")
        taken = await post(owner, "/people", login="OWNER", name="X", role="owner")
        customer = await post(owner, "/people", login="x", name="X", role="customer")

    assert answer.status_code == 422
    assert "A name has 1 to 60" in answer.text
    assert "role cannot be given" in answer.text
    assert "This login is taken." in taken.text
    assert 'value="OWNER"' in taken.text
    assert "whose sites" in customer.text
    assert fleet.count("people") == before
    assert fleet.count("audit") == 0


async def test_new_password_needs_the_old_one_and_ends_every_session(fleet: Stock) -> None:
    """A stolen session cannot take the account over."""
    app = fleet.app()
    async with signed_in(app, "technician") as one, signed_in(app, "technician") as other:
        wrong = await post(one, "/password", old="guess a guess", new=NEW)
        weak = await post(one, "/password", old=PASSWORD, new="aaaaaaaaaaaa")
        right = await post(one, "/password", old=PASSWORD, new=NEW)
        elsewhere = await other.get("/due")
        before = await sign_in(other, "technician", PASSWORD)
        after = await sign_in(other, "technician", NEW)

    statuses = [a.status_code for a in (wrong, weak, right, elsewhere, before, after)]
    assert statuses == [422, 422, 303, 303, 401, 303]


async def test_name_is_locked_out_wherever_the_tries_come_from(fleet: Stock) -> None:
    """Five wrong passwords for a login: it waits, from a fresh address and with the right one."""
    app = fleet.app(by_address=True, in_clear=True)
    for number in range(5):
        transport = httpx.ASGITransport(app=app, client=(f"10.0.{number}.9", 40_000))
        url = "http://127.0.0.1"
        async with httpx.AsyncClient(
            transport=transport, base_url=url, headers={"origin": url}
        ) as client:
            assert (await sign_in(client, "owner", "wrong wrong wrong")).status_code == 401
    async with client_of(app) as client:
        locked = await sign_in(client, "Owner", PASSWORD)
        other = await sign_in(client, "dispatcher", PASSWORD)

    assert [locked.status_code, other.status_code] == [429, 303]


async def test_form_without_its_token_does_nothing(fleet: Stock) -> None:
    """Another page cannot act for whoever is signed in."""
    async with signed_in(fleet.app(), "owner") as owner:
        for path in ("/people", "/hooks", f"/people/{fleet.people['customer']}/end"):
            assert (await owner.post(path, data={"form": "0" * 64})).status_code == 403
        headers = {"origin": "https://elsewhere.example"}
        token = form_of((await owner.get("/more")).text)
        answer = await owner.post("/people", data={"form": token}, headers=headers)

    assert answer.status_code == 403
    assert fleet.count("audit") == 0


async def test_last_owner_cannot_go(fleet: Stock) -> None:
    """Neither by an end nor by another role."""
    number = fleet.people["owner"]
    async with signed_in(fleet.app(), "owner") as owner:
        ended = await post(owner, f"/people/{number}/end")
        lower = await post(owner, f"/people/{number}/role", role="technician")

    assert [ended.status_code, lower.status_code] == [422, 422]
    assert "last owner" in ended.text


async def test_customer_never_becomes_staff_nor_staff_a_customer(fleet: Stock) -> None:
    """Roles change within the service company only."""
    async with signed_in(fleet.app(), "owner") as owner:
        up = await post(owner, f"/people/{fleet.people['customer']}/role", role="owner")
        down = await post(owner, f"/people/{fleet.people['technician']}/role", role="customer")

    assert [up.status_code, down.status_code] == [422, 422]


async def test_erased_name_is_gone_everywhere_and_the_seals_still_fit(fleet: Stock) -> None:
    """The audit says that an erased person did it; no file of the records has the name any more."""
    app, number = fleet.app(), fleet.people["dispatcher"]
    site = fleet.site("steps")
    async with signed_in(app, "owner") as owner, signed_in(app, "dispatcher") as other:
        await post(other, f"/site/{site}/retire")
        erased = await post(owner, f"/people/{number}/erase")
        people, audit = await owner.get("/people"), await owner.get("/audit")
        table = await owner.get("/audit.csv")
        locked = await other.get("/due")
    with fleet.records.read() as connection:
        person = people_rows.by_number(connection, number)
        checked = audit_rows.check(audit_rows.every(connection))

    assert erased.status_code == 303
    for text in (people.text, audit.text, table.text):
        assert "Some dispatcher" not in text
    assert "erased person" in audit.text
    assert person is not None
    assert (person.name, person.password) == ("", "")
    assert checked.broken_at == 0
    assert checked.rows == 3
    assert locked.status_code == 303


async def test_names_in_a_sites_logbook_are_erased_on_request(fleet: Stock) -> None:
    """The entry stays; who wrote it is gone."""
    site = fleet.site("steps")
    fleet.add("names", site_no=site, name="Ida at the bar")
    async with signed_in(fleet.app(), "owner") as owner:
        before = await owner.get(f"/site/{site}/about")
        done = await post(owner, f"/site/{site}/erase-name", name="Ida at the bar")
        after = await owner.get(f"/site/{site}/about")
        nobody = await post(owner, f"/site/{site}/erase-name", name="Ida at the bar")
    with fleet.records.read() as connection:
        kept_names = list(connection.execute(select(tables.names.c.name)).scalars())

    assert "Ida at the bar" in before.text
    assert done.status_code == 303
    assert "Ida" not in after.text
    assert nobody.status_code == 422
    assert not any("Ida" in name for name in kept_names)


async def test_tampering_with_the_audit_shows(fleet: Stock) -> None:
    """A row that was changed, or one that was taken out, is named."""
    site = fleet.site("steps")
    async with signed_in(fleet.app(), "owner") as owner:
        for way in ("retire", "adopt", "retire", "adopt"):
            await post(owner, f"/site/{site}/{way}")
        whole = await owner.get("/audit")
        with fleet.records.begin() as connection:
            row = update(tables.audit).where(tables.audit.c.audit_no == 3)
            connection.execute(row.values(about="site 99"))
        changed = await owner.get("/audit")
        with fleet.records.begin() as connection:
            connection.execute(row.values(about=f"site {site}"))
            connection.execute(delete(tables.audit).where(tables.audit.c.audit_no == 2))
        removed = await owner.get("/audit")

    assert "4 acts, and every seal fits." in whole.text
    assert "Act 3 was changed" in changed.text
    assert "Act 3 was changed" in removed.text


async def test_every_act_leaves_a_row_that_names_nobody(fleet: Stock) -> None:
    """Who did it stands as a number; names and passwords are in no row."""
    site = fleet.site("steps")
    async with signed_in(fleet.app(), "owner") as owner:
        await invited(fleet, owner)
        await post(owner, f"/site/{site}/about", region="quay", customer=OURS, tags="a, b")
        await post(owner, "/round", day="2026-04-30", order=str(site), **{f"take{site}": "yes"})
        await post(owner, "/visit/1", state="done", note="all well")
    with fleet.records.read() as connection:
        acts = list(audit_rows.every(connection))
    text = msgspec.json.encode(acts).decode()

    assert [act.act for act in acts] == [
        "person.invited", "site.described", "round.planned", "visit.done",
    ]  # fmt: skip
    assert {act.person_no for act in acts} == {fleet.people["owner"]}
    assert "Cleo" not in text
    assert "Some owner" not in text
