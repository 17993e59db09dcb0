"""One customer never sees another's: every address, every list, every number."""

from __future__ import annotations

import re

import pytest

from dashboards.fleet.api.operation import Operation
from dashboards.fleet.api.table import OPERATIONS
from dashboards.fleet.roles import ROLES
from tests.asking import Asking
from tests.two_customers import Fleet

NEEDED: dict[str, dict[str, str]] = {"rows": {"kind": "reading"}}
"""What a question cannot be asked without."""
BODIES: dict[str, dict[str, object]] = {
    "put_tags": {"tags": ["x"]},
    "plan_visit": {"site_no": 10**6, "day": "2027-02-01"},
    "settle_visit": {"state": "done"},
}


FOREIGN = re.compile("site-2-|Quay|Place 2|site-x|Place None")
"""What only rows of the other customer, and of nobody, hold."""
BY_NUMBER = [operation for operation in OPERATIONS if "{" in operation.path]


@pytest.mark.parametrize("operation", BY_NUMBER, ids=lambda o: o.name)
def test_what_is_anothers_is_not_there(client: Asking, fleet: Fleet, operation: Operation) -> None:
    """Every address that names a site or stop answers alike for another's and for what is none."""
    stops = client.get(
        "/api/v1/visits", params={"limit": 500}, headers=fleet.bearing("owner")
    ).json()["items"]
    foreign = {
        "site_no": (*fleet.others, fleet.waiting, 0, 10**6, 10**30),
        "visit_no": (*(s["visit_no"] for s in stops if s["site_no"] in fleet.others), 10**6),
    }
    (name,) = re.findall(r"\{(\w+):int\}", operation.path)
    told = set()
    for number in foreign[name]:
        answer = client.request(
            operation.method,
            operation.path.replace(f"{{{name}:int}}", str(number)),
            params=NEEDED.get(operation.name),
            json=BODIES.get(operation.name),
            headers=fleet.bearing("customer"),
        )
        told.add((answer.status_code, answer.text))

    ((status, text),) = told
    assert status == (404 if "customer" in operation.who else 403)
    assert not FOREIGN.search(text)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda o: o.name)
def test_no_answer_to_a_customer_holds_anothers(
    client: Asking, fleet: Fleet, operation: Operation
) -> None:
    """Asked for by another's number or text, or with another's cursor, lists hold one's own."""
    if operation.query is None:
        asked = [{}]
    else:
        names = operation.query.__struct_fields__
        asked = [NEEDED.get(operation.name, {})]
        asked += [{"site_no": str(n)} for n in fleet.others if "site_no" in names]
        asked += [{"text": "Place 2"}, {"site": "site-2-0"}] if "site" in names else []
        if "after" in names:
            asked += [{"limit": "1", "after": _cursor(client, fleet, operation)}]
    path = re.sub(r"\{\w+:int\}", str(fleet.mine[0]), operation.path)
    for query in asked:
        answer = client.request(
            operation.method,
            path,
            params=query,
            json=BODIES.get(operation.name),
            headers=fleet.bearing("customer reads"),
        )
        assert answer.status_code in (200, 400, 403, 404)
        assert not FOREIGN.search(answer.text)


def _cursor(client: Asking, fleet: Fleet, operation: Operation) -> str:
    """The owner's cursor into another's rows."""
    path = re.sub(r"\{\w+:int\}", str(fleet.others[0]), operation.path)
    query = {"limit": "1"} | NEEDED.get(operation.name, {})
    answer = client.get(path, params=query, headers=fleet.bearing("owner"))
    return str(answer.json()["next"])


def test_a_customers_person_changes_nothing(client: Asking, fleet: Fleet) -> None:
    """Whatever the token says, who may only look may only look."""
    for operation in OPERATIONS:
        if operation.changes:
            path = re.sub(r"\{\w+:int\}", str(fleet.mine[0]), operation.path)
            body = BODIES.get(operation.name)
            answer = client.request(
                operation.method, path, json=body, headers=fleet.bearing("customer")
            )
            assert answer.status_code == 403


def test_every_role_is_held_to_the_table(client: Asking, fleet: Fleet) -> None:
    """An address whose table does not name the role refuses it; a reading token changes nothing."""
    for operation in OPERATIONS:
        path = re.sub(r"\{\w+:int\}", "1000000", operation.path)
        for role in ROLES:
            asked = {"params": NEEDED.get(operation.name), "json": BODIES.get(operation.name)}
            may = client.request(operation.method, path, headers=fleet.bearing(role), **asked)
            assert (may.status_code == 403) == (role not in operation.who)
            reads = client.request(
                operation.method, path, headers=fleet.bearing(f"{role} reads"), **asked
            )
            assert (reads.status_code == 403) == (role not in operation.who or operation.changes)
