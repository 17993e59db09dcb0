"""What programs change, and that every act is kept."""

from __future__ import annotations

import msgspec

from firmware_bridge.fleet.records import audit_rows
from tests.asking import Asking
from tests.two_customers import Fleet


def _acts(fleet: Fleet) -> list[tuple[str, str]]:
    with fleet.records.read() as connection:
        kept = list(audit_rows.every(connection))
    assert not audit_rows.check(kept).broken_at
    assert all(act.person_no for act in kept)
    return [(act.act, act.about) for act in kept]


def test_tags_are_given_whole(own_fleet: Fleet) -> None:
    """These tags and no others; one named twice counts once; the act is kept with what was."""
    site = own_fleet.mine[0]
    with Asking(own_fleet.app, headers=own_fleet.bearing("dispatcher")) as client:
        for tags in (["b", "a", "b"], []):
            answer = client.put(f"/api/v1/sites/{site}/tags", json={"tags": tags})
            assert answer.json()["tags"] == sorted(set(tags))

    assert _acts(own_fleet) == [("site.tags", f"site {site}")] * 2
    with own_fleet.records.read() as connection:
        first = next(iter(audit_rows.every(connection)))
    assert msgspec.json.decode(first.body) == {"tags": ["b", "a"], "before": ["harbour"]}


def test_a_site_is_adopted_once(own_fleet: Fleet) -> None:
    """An unknown site becomes one of ours; a second time is a contradiction."""
    path = f"/api/v1/sites/{own_fleet.waiting}/adopt"
    with Asking(own_fleet.app, headers=own_fleet.bearing("owner")) as client:
        assert client.post(path).json()["state"] == "adopted"
        assert client.post(path).status_code == 409
        assert client.post(path, json={"x": 1}).status_code == 400

    assert _acts(own_fleet) == [("site.adopted", f"site {own_fleet.waiting}")]


def test_a_stop_is_planned_and_settled(own_fleet: Fleet) -> None:
    """It goes to the end of its day; how it went is said once and may be mended."""
    site = own_fleet.mine[0]
    with Asking(own_fleet.app, headers=own_fleet.bearing("dispatcher")) as client:
        wanted = {
            "site_no": site,
            "day": "2027-01-21",
            "line": "bar",
            "note": "the key is next door",
        }
        made = [client.post("/api/v1/visits", json=wanted) for _ in range(2)]
        assert [answer.status_code for answer in made] == [201, 201]
        first, second = (answer.json() for answer in made)
        assert (first["place"], second["place"]) == (0, 1)
        assert (
            client.post("/api/v1/visits", json=wanted | {"site_no": own_fleet.waiting}).status_code
            == 409
        )
    with Asking(own_fleet.app, headers=own_fleet.bearing("technician")) as client:
        path = f"/api/v1/visits/{first['visit_no']}"
        done = client.patch(path, json={"state": "done"}).json()
        assert (done["state"], done["note"]) == ("done", "the key is next door")
        dropped = client.patch(path, json={"state": "dropped", "note": "closed"}).json()
        assert (dropped["state"], dropped["note"]) == ("dropped", "closed")

    assert [act for act, _ in _acts(own_fleet)] == [
        "visit.planned", "visit.planned", "visit.done", "visit.dropped",
    ]  # fmt: skip
