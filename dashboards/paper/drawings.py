"""Drawings of the pages made to stand alone: the rules that colour them inside, as on paper."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import dashboards

SHEET = Path(dashboards.__file__).parent / "static" / "sheet.css"
SANS = '"Open Sans"'
SERIF = '"Libertinus Serif"'
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_VAR = re.compile(r"var\((--[a-z0-9-]+)\)")
_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
_DEFS = re.compile(r"<defs>.*?</defs>", re.DOTALL)
HALO = "paint-order"
"""A rule that paints paper round letters; setters draw it over them, so it stays on screens."""
DRAWN = ("fill", "stroke", "font", "text-anchor", "opacity", "transform")
"""Properties that a drawing's looks rest on."""


def alone(svg: str, defs: str = "") -> str:
    """The drawing with its own style sheet: light colours, fonts that paper has. `defs` is a
    drawing of shapes that this one uses by name."""
    head, rest = svg.split(">", 1)
    if "xmlns" not in head:
        head = head.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    shapes = "".join(_DEFS.findall(defs))
    return f"{head}><style>{_rules()}</style>{shapes}{rest}"


@cache
def _rules() -> str:
    """The style sheet's plain rules that colour drawings, every token put in."""
    text = _without_media(_COMMENT.sub("", SHEET.read_text()))
    rules = [(s.strip(), body) for s, body in _RULE.findall(text)]
    tokens = _tokens(next(body for selector, body in rules if selector == ":root"))
    kept = []
    for selector, body in rules:
        if ":" in selector or "[" in selector or HALO in body:
            continue
        declared = [_in_ink(part.strip(), tokens) for part in body.split(";")]
        drawn = [part for part in declared if part.split(":")[0].strip().startswith(DRAWN)]
        if drawn:
            kept.append(f"{selector}{{{';'.join(drawn)}}}")
    return "".join(kept)


def _in_ink(declared: str, tokens: dict[str, str]) -> str:
    return _VAR.sub(lambda found: tokens.get(found[1], "#000"), declared)


def _tokens(body: str) -> dict[str, str]:
    pairs = (part.split(":", 1) for part in body.split(";") if ":" in part)
    found = {name.strip(): value.strip() for name, value in pairs if name.strip().startswith("--")}
    return found | {"--paper": "#ffffff", "--sans": SANS, "--serif": SERIF}


def _without_media(text: str) -> str:
    """The rules outside blocks that begin with @."""
    out, depth, skipping = [], 0, False
    for part in re.split(r"([{}])", text):
        if part == "{":
            depth += 1
        elif part == "}":
            depth -= 1
            if skipping and depth == 0:
                skipping = False
                continue
        elif depth == 0 and "@" in part:
            before, _, _ = part.rpartition("@")
            out.append(before)
            skipping = True
            continue
        if not skipping:
            out.append(part)
    return "".join(out)
