"""The API does what its description says, whatever fits the description or breaks it."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode

from dashboards.fleet.api.table import EVERY
from firmware_bridge.fleet.identity.codes import new_code
from tests.two_customers import two_customers

QUIET = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.function_scoped_fixture]


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The description as it is served, and the token of an owner."""
    with two_customers(tmp_path_factory.mktemp("described"), sites_each=1) as fleet:
        schema = schemathesis.openapi.from_asgi("/api/v1/openapi.json", fleet.app)
        schema.config.generation.database = "none"
        yield schema, fleet.bearing("owner")


@pytest.mark.parametrize("operation", EVERY, ids=lambda o: o.name)
@pytest.mark.parametrize("mode", list(GenerationMode), ids=lambda m: m.value)
def test_every_answer_is_as_described(described: Any, operation: Any, mode: Any) -> None:
    """Status, headers and body fit the description; what does not fit it is refused."""
    schema, headers = described
    told = schema[operation.path.replace(":int}", "}")][operation.method]
    if mode is GenerationMode.NEGATIVE and not (told.query or told.path_parameters or told.body):
        return

    @settings(max_examples=6, suppress_health_check=QUIET)
    @given(case=told.as_strategy(generation_mode=mode))
    def asked(case: Any) -> None:
        if mode is GenerationMode.POSITIVE:
            _with_what_was_given(case, headers)
        case.call_and_validate(headers=headers)

    asked()


def _with_what_was_given(case: Any, headers: dict[str, str]) -> None:
    """A description cannot say which codes and cursors are sound: given ones stand in for made."""
    if isinstance(case.body, dict) and "code" in case.body:
        case.body["code"] = new_code()
    if not case.query or "after" not in case.query:
        return
    del case.query["after"]
    limit, case.query["limit"] = case.query.get("limit", 100), 1
    given = case.call(headers=headers).json().get("next")
    case.query["limit"] = limit
    if given is not None:
        case.query["after"] = given
