"""The description of the API (OpenAPI 3.1), made from the table and its structs."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import msgspec

from dashboards.fleet.api.operation import Operation
from dashboards.fleet.api.problems import MEDIA_TYPE, TITLES
from dashboards.fleet.api.questions import LARGEST
from dashboards.fleet.api.table import EVERY, forms
from dashboards.fleet.api.words import Problem

REF = "#/components/schemas/{name}"
TELLS = """\
What a service company's fleet knows of its sites, for programs. A token is made by a person and
sees what that person may see. Instants are whole milliseconds of UTC, units stand in the names,
what is not known is null. Lists come a page at a time: `next` of one page is `after` of the
following one."""


@cache
def document() -> dict[str, Any]:
    """The whole description."""
    schemas, components = _schemas()
    paths: dict[str, dict[str, Any]] = {}
    for operation in EVERY:
        plain = re.sub(r":int\}", "}", operation.path)
        paths.setdefault(plain, {})[operation.method.lower()] = _described(operation, schemas)
    return {
        "openapi": "3.1.0",
        "info": {"title": "LastLitre fleet", "version": "1", "description": TELLS},
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "schemas": components,
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
            "responses": {
                str(status): {
                    "description": title,
                    "content": {MEDIA_TYPE: {"schema": schemas[Problem]}},
                }
                for status, title in TITLES.items()
            },
        },
    }


def parameters(operation: Operation) -> list[dict[str, Any]]:
    """What stands in the address and in the query."""
    number = {"type": "integer", "minimum": 1, "maximum": LARGEST}
    inside = [
        {"name": name, "in": "path", "required": True, "schema": number}
        for name in re.findall(r"\{(\w+):int\}", operation.path)
    ]
    return inside + (_query(operation.query) if operation.query else [])


def rights(operation: Operation) -> str:
    """Who may, in a sentence."""
    if not operation.needs_token:
        return "For sites: needs no token."
    whom = f"For: {', '.join(sorted(operation.who))}."
    return f"{whom} The token must be allowed to change things." if operation.changes else whom


def _query(form: type[msgspec.Struct]) -> list[dict[str, Any]]:
    """Fields of a struct as parameters; one that is left out has no null to write."""
    (_,), components = msgspec.json.schema_components((form,), ref_template=REF)
    told = components[form.__name__]
    return [
        {
            "name": name,
            "in": "query",
            "required": name in told.get("required", ()),
            "schema": _without_null(schema),
        }
        for name, schema in told["properties"].items()
    ]


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in schema.items() if key != "default" or value is not None}
    if "anyOf" in kept:
        (only,) = [part for part in kept.pop("anyOf") if part != {"type": "null"}]
        kept |= only
    if "enum" in kept:
        kept["enum"] = [value for value in kept["enum"] if value is not None]
    return kept


def _schemas() -> tuple[dict[Any, dict[str, Any]], dict[str, Any]]:
    wanted = [form for form in forms() if not getattr(form, "__name__", "").endswith("Asked")]
    told, components = msgspec.json.schema_components(wanted, ref_template=REF)
    return dict(zip(wanted, told, strict=True)), components


def _described(operation: Operation, schemas: dict[Any, dict[str, Any]]) -> dict[str, Any]:
    given = parameters(operation)
    told: dict[str, Any] = {
        "operationId": operation.name,
        "summary": operation.says,
        "description": rights(operation),
        "responses": _answers(operation, schemas, given),
    }
    if given:
        told["parameters"] = given
    if not operation.needs_token:
        told["security"] = []
    if operation.body is not None:
        content = {"application/json": {"schema": schemas[operation.body]}}
        told["requestBody"] = {"required": True, "content": content}
    return told


def _answers(
    operation: Operation, schemas: dict[Any, dict[str, Any]], given: list[dict[str, Any]]
) -> dict[str, Any]:
    right = {
        "description": operation.says,
        "content": {"application/json": {"schema": schemas[operation.answer]}},
    }
    statuses = [400, 403, 405, 414, 429, 503, *([401] if operation.needs_token else [])]
    if any(one["in"] == "path" for one in given) or operation.changes:
        statuses.append(404)
    if operation.changes:
        statuses += [408, 409, 413, 415]
    told: dict[str, Any] = {str(operation.status): right}
    if not operation.changes:
        told["304"] = {"description": "As you have it (If-None-Match)"}
    return told | {str(s): {"$ref": f"#/components/responses/{s}"} for s in sorted(statuses)}
