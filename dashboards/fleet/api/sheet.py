"""The description of the API as a page: plain, and with nothing from elsewhere."""

from __future__ import annotations

from functools import cache
from html import escape
from typing import Any

from dashboards.assets import asset_address
from dashboards.fleet.api.described import TELLS, document, parameters, rights
from dashboards.fleet.api.operation import ROOT, Operation
from dashboards.fleet.api.table import EVERY


@cache
def sheet() -> bytes:
    """The page, made from the same table."""
    parts = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        "<title>The fleet for programs</title>",
        f'<link rel="stylesheet" href="{escape(asset_address("sheet.css"))}"></head>',
        f"<body><main><h1>The fleet for programs</h1><p>{_words(TELLS)}</p>",
        f'<p>For tools: <a href="{ROOT}/openapi.json">{ROOT}/openapi.json</a>. In a shell:</p>',
        f"<pre>curl -H &quot;Authorization: Bearer $TOKEN&quot; https://fleet.example{ROOT}/me</pre>",
        *(_operation(operation) for operation in EVERY),
        "<h2>Structs</h2>",
        *(_struct(name, told) for name, told in document()["components"]["schemas"].items()),
        "</main></body></html>",
    ]
    return "\n".join(parts).encode()


def _operation(operation: Operation) -> str:
    path = operation.path.replace(":int}", "}")
    rows = [_row(p["name"], p["schema"], p["in"], p["required"]) for p in parameters(operation)]
    sent = f"<p>Takes: {_link(operation.body)}.</p>" if operation.body else ""
    return (
        f'<section id="{operation.name}"><h2>{operation.method} {escape(path)}</h2>'
        f"<p>{_words(operation.says)} {rights(operation)}</p>{_table(rows)}{sent}"
        f"<p>Gives: {_link(operation.answer)}.</p></section>"
    )


def _link(form: Any) -> str:
    name = getattr(form, "__name__", str(form))
    parts = [part.__name__ for part in getattr(form, "__args__", ())]
    whole = "_".join((name, *parts)) + ("_" if parts else "")
    return f'<a href="#{whole}">{whole.strip("_").replace("_", " of ")}</a>'


def _struct(name: str, told: dict[str, Any]) -> str:
    rows = [
        _row(key, schema, "", key in told.get("required", ()))
        for key, schema in told.get("properties", {}).items()
    ]
    says = f"<p>{_words(told['description'])}</p>" if "description" in told else ""
    return f'<section id="{escape(name)}"><h3>{escape(name)}</h3>{says}{_table(rows)}</section>'


def _row(name: str, schema: dict[str, Any], where: str, needed: bool) -> str:
    cells = (name, where, _kind(schema), "" if needed else "may be left out")
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[1]
    if "anyOf" in schema:
        return " or ".join(_kind(part) for part in schema["anyOf"])
    if "enum" in schema:
        return ", ".join(str(value) for value in schema["enum"])
    inner = schema.get("items")
    return f"list of {_kind(inner)}" if isinstance(inner, dict) else str(schema.get("type", "any"))


def _table(rows: list[str]) -> str:
    return f"<table>{''.join(rows)}</table>" if rows else ""


def _words(text: str) -> str:
    return escape(" ".join(text.split())).replace("`", "")
