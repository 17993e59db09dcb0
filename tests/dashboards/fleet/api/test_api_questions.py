"""What programs ask and get."""

from __future__ import annotations

from typing import Any

import pytest

from tests.asking import Asking
from tests.two_customers import NASTY, NOW, ROWS, Fleet


def _all(client: Asking, path: str, headers: dict[str, str], **query: Any) -> list[Any]:
    """Every item, page by page; no page is longer than asked."""
    found: list[Any] = []
    after: dict[str, str] = {}
    while True:
        answer = client.get(path, params=query | after, headers=headers)
        assert answer.status_code == 200, answer.text
        page = answer.json()
        assert len(page["items"]) <= query["limit"]
        found += page["items"]
        if page["next"] is None:
            return found
        after = {"after": page["next"]}


@pytest.mark.parametrize("name", ["sites", "lines", "alarms", "doubts", "cartridges", "visits"])
def test_a_list_is_the_same_by_any_page(
    either_client: Asking, either_fleet: Fleet, name: str
) -> None:
    """Small pages put together are the whole, without a row twice or left out."""
    headers = either_fleet.bearing("owner reads")
    whole = _all(either_client, f"/api/v1/{name}", headers, limit=500)

    assert len(whole) == (7 if name == "sites" else 12)
    for limit in (1, 5):
        assert _all(either_client, f"/api/v1/{name}", headers, limit=limit) == whole


def test_rows_of_a_span_come_page_by_page(either_client: Asking, either_fleet: Fleet) -> None:
    """Every row of the span once, however the pages cut the chunks."""
    path, headers = (
        f"/api/v1/sites/{either_fleet.mine[0]}/rows",
        either_fleet.bearing("customer reads"),
    )
    span = {"kind": "reading", "line": "bär 2", "from_ms": NOW + 4000, "to_ms": NOW + 30_000}
    for limit in (1, 7, 12, 5000):
        rows = _all(either_client, path, headers, **span, limit=limit)
        assert [row["seq"] for row in rows] == list(range(4, 31))
    assert rows[0]["numbers"] == {"outlet_us_cm": 404.0}
    assert _all(either_client, path, headers, kind="draw", limit=10) == []
    assert len(_all(either_client, path, headers, kind="reading", line="bar", limit=10)) == 3 * ROWS


def test_what_is_due_comes_by_risk_page_by_page(either_client: Asking, either_fleet: Fleet) -> None:
    """Every line once, the gravest first; who silent is, who may end, with chances and range."""
    headers = either_fleet.bearing("technician reads")
    whole = _all(either_client, "/api/v1/due", headers, limit=500, next_ms=NOW + 4 * 86_400_000)

    assert len(whole) == 12
    assert [one["risk"] for one in whole] == sorted((o["risk"] for o in whole), reverse=True)
    assert 0.05 < whole[0]["chance_by_next"] < 0.5 < whole[0]["chance_by_after"] < 1.0
    assert (
        _all(either_client, "/api/v1/due", headers, limit=5, next_ms=NOW + 4 * 86_400_000) == whole
    )
    assert _all(either_client, "/api/v1/due", headers, limit=5, region="granite") == []


def test_parts_and_priors_are_told(either_client: Asking, either_fleet: Fleet) -> None:
    """How many cartridges the weeks take, and what they deliver of what is stated."""
    headers = either_fleet.bearing("dispatcher reads")
    (part,) = either_client.get("/api/v1/parts", params={"weeks": 4}, headers=headers).json()[
        "items"
    ]
    told = either_client.get("/api/v1/priors", headers=headers).json()

    assert (part["medium"], part["size"], part["lines"], part["unknown"]) == ("sodium", "M", 12, 0)
    assert part["count_p05"] <= part["count_p50"] <= part["count_p95"]
    assert 10 <= part["count_p50"] <= 13
    assert told["cartridges"] == 12
    assert any(one["region"] == "chalk" and 0.85 < one["share_p50"] < 1.0 for one in told["items"])


def test_an_erased_name_is_not_told(either_client: Asking, either_fleet: Fleet) -> None:
    """Events have the name of whoever did it, as long as it was not erased."""
    path = f"/api/v1/sites/{either_fleet.mine[0]}/events"
    items = _all(either_client, path, either_fleet.bearing("owner"), limit=2)

    assert [item["who"] for item in items] == ["Ada of site-1-0", None, None]
    assert items[0]["words"] == {"hardness": "soft"}
    assert items[0]["numbers"] == {"drops": 3.0}


def test_names_that_are_code_elsewhere_are_text_here(
    either_client: Asking, either_fleet: Fleet
) -> None:
    """SQL and HTML in a name come back as they are, as JSON, and find what they stand in."""
    headers = either_fleet.bearing("owner")
    answer = either_client.get("/api/v1/sites", params={"text": NASTY}, headers=headers)

    assert answer.headers["content-type"] == "application/json"
    assert len(answer.json()["items"]) == 7
    for text in ("%", "_", "' OR 1=1 --", "\\"):
        assert not either_client.get(
            "/api/v1/sites", params={"text": text + "?"}, headers=headers
        ).json()["items"]


def test_an_answer_that_is_known_is_not_sent_again(
    either_client: Asking, either_fleet: Fleet
) -> None:
    """If-None-Match with the answer's mark gives 304; another's answer has another mark."""
    owner, customer = either_fleet.bearing("owner"), either_fleet.bearing("customer")
    first = either_client.get("/api/v1/sites", headers=owner)
    mark = first.headers["etag"]

    again = either_client.get("/api/v1/sites", headers=owner | {"if-none-match": f'"x", W/{mark}'})
    assert (again.status_code, again.content) == (304, b"")
    other = either_client.get("/api/v1/sites", headers=customer | {"if-none-match": mark})
    assert other.status_code == 200
    assert "private" in first.headers["cache-control"]
    assert first.headers["vary"] == "authorization"


def test_the_description_is_whole_and_comes_as_a_page(either_client: Asking) -> None:
    """The document names every address, the page shows it, and nothing is fetched elsewhere."""
    document = either_client.get("/api/v1/openapi.json").json()
    page = either_client.get("/api/v1").text

    assert document["openapi"] == "3.1.0"
    for path, methods in document["paths"].items():
        assert path.replace("<", "&lt;") in page
        for told in methods.values():
            assert f'id="{told["operationId"]}"' in page
    assert "http://" not in page
    assert page.count("https://") == 1  # the example for a shell
