"""The description of the API as a page: plain, and with nothing from elsewhere."""

from __future__ import annotations

from functools import cache
from html import escape
from typing import Any

from dashboards.assets import asset_address
from dashboards.fleet.api.described import TELLS, document, parameters, rights
from dashboards.fleet.api.operation import ROOT, Operation
from dashboards.fleet.api.questions import LARGEST
from dashboards.fleet.api.table import EVERY

TRY = f"""\
<p>For tools: <a href="{ROOT}/openapi.json">{ROOT}/openapi.json</a>. In a shell:</p>
<p class="breaks"><code>curl -H "Authorization: Bearer $TOKEN" https://fleet.example{ROOT}/me</code></p>
"""


@cache
def sheet() -> bytes:
    """The page, made from the same table."""
    schemas = document()["components"]["schemas"]
    styles = (asset_address(name) for name in ("sheet.css", "fleet.css"))
    parts = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        "<title>The fleet for programs</title>",
        *(f'<link rel="stylesheet" href="{escape(style)}">' for style in styles),
        '</head><body><div class="sheet fleet"><main id="main" class="no-profile">',
        _row("API", f'<h1 class="lesser">The fleet for programs</h1><p>{_words(TELLS)}</p>{TRY}'),
        *(_operation(operation) for operation in EVERY),
        *(_struct(name, told) for name, told in schemas.items()),
        "</main></div></body></html>",
    ]
    return "\n".join(parts).encode()


def _row(aside: str, words: str, mark: str = "") -> str:
    """One part of the page, as the other pages lay theirs out."""
    margin = f'<div class="margin"><h2>{escape(aside)}</h2></div>'
    inner = f'{margin}<div class="words">{words}</div>'
    return f'<section class="row" id="{escape(mark)}">{inner}</section>'


def _operation(operation: Operation) -> str:
    path = operation.path.replace(":int}", "}")
    told = [_field(p["name"], p["schema"], p["required"]) for p in parameters(operation)]
    asked = _words(operation.query.__doc__ or "") if operation.query else ""
    sent = f"<p>Takes: {_link(operation.body)}.</p>" if operation.body else ""
    words = (
        f'<h3 class="breaks">{escape(path)}</h3>'
        f"<p>{_words(operation.says)} {rights(operation)}</p>"
        f"{f'<p>{asked}</p>' if asked else ''}{_list(told)}{sent}"
        f"<p>Gives: {_link(operation.answer)}.</p>"
    )
    return _row(operation.method, words, operation.name)


def _link(form: Any) -> str:
    name = getattr(form, "__name__", str(form))
    parts = [part.__name__ for part in getattr(form, "__args__", ())]
    whole = "_".join((name, *parts)) + ("_" if parts else "")
    return f'<a href="#{whole}">{whole.strip("_").replace("_", " of ")}</a>'


def _struct(name: str, told: dict[str, Any]) -> str:
    needed = told.get("required", ())
    fields = told.get("properties", {}).items()
    says = f"<p>{_words(told['description'])}</p>" if "description" in told else ""
    found = _list([_field(key, schema, key in needed) for key, schema in fields])
    return _row("Struct", f"<h3>{escape(name)}</h3>{says}{found}", name)


def _field(name: str, schema: dict[str, Any], needed: bool) -> str:
    least, most = schema.get("minimum"), schema.get("maximum")
    span = f", {least} to {most}" if most is not None and most < LARGEST else ""
    left_out = "" if needed else ", may be left out"
    return f"<li><code>{escape(name)}</code>: {escape(_kind(schema) + span + left_out)}</li>"


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[1]
    if "anyOf" in schema:
        return " or ".join(_kind(part) for part in schema["anyOf"])
    if "enum" in schema:
        return ", ".join(str(value) for value in schema["enum"])
    inner = schema.get("items")
    return f"list of {_kind(inner)}" if isinstance(inner, dict) else str(schema.get("type", "any"))


def _list(fields: list[str]) -> str:
    return f"<ul>{''.join(fields)}</ul>" if fields else ""


def _words(text: str) -> str:
    return escape(" ".join(text.split())).replace("`", "")
