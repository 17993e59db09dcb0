"""Contrast, recomputed from the stylesheet's own tokens by the WCAG 2 formula."""

from __future__ import annotations

import re

import pytest

from dashboards.assets import assets

CSS = assets()["sheet.css"].body.decode()
TEXT, MARK = 4.5, 3.0
INKS = ("ink", "ink-2", "water", "resin-ink", "brick", "pencil")
MARKS = ("edge", "resin", "lime")
TINTS = (
    ("water", "water-tint"),
    ("resin-ink", "resin-tint"),
    ("brick", "brick-tint"),
    ("pencil", "pencil-tint"),
    ("ink", "water-tint"),
    ("ink", "resin-tint"),
    ("ink", "lime-tint"),
    ("ink-2", "water-tint"),
    ("ink-2", "lime-tint"),
    ("ink", "sheet"),
    ("paper", "ink"),
    ("paper", "brick"),
)


def looks() -> dict[str, dict[str, str]]:
    """Tokens of each look: the light ones, and the dark ones of both places that state them."""
    blocks = re.findall(r"(:root[^{]*)\{([^}]*)\}", CSS)
    found = {
        selector.strip(): dict(re.findall(r"--([a-z0-9-]+): (#[0-9A-Fa-f]{6})", body))
        for selector, body in blocks
    }
    return {
        "light": found[":root"],
        "dark by device": found[':root:not([data-look="light"])'],
        "dark by choice": found[':root[data-look="dark"]'],
    }


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition "relative luminance")."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition "contrast ratio")."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_formula_gives_the_published_ends() -> None:
    """Black on white is 21, the grey #767676 on white is just above 4.5 (WCAG)."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert 4.5 < contrast("#767676", "#FFFFFF") < 4.6


@pytest.mark.parametrize("look", looks())
@pytest.mark.parametrize("token", INKS)
def test_text_stands_out_from_paper(look: str, token: str) -> None:
    """Every colour that text is written in has at least 4.5 on paper."""
    tokens = looks()[look]

    assert contrast(tokens[token], tokens["paper"]) >= TEXT


@pytest.mark.parametrize("look", looks())
@pytest.mark.parametrize("token", MARKS)
def test_marks_stand_out_from_paper(look: str, token: str) -> None:
    """Every mark that must be seen has at least 3 on paper."""
    tokens = looks()[look]

    assert contrast(tokens[token], tokens["paper"]) >= MARK


@pytest.mark.parametrize("look", looks())
@pytest.mark.parametrize("pair", TINTS, ids="-on-".join)
def test_text_stands_out_from_its_tint(look: str, pair: tuple[str, str]) -> None:
    """Text on a tint, and paper on a filled sign, has at least 4.5."""
    tokens = looks()[look]

    assert contrast(tokens[pair[0]], tokens[pair[1]]) >= TEXT


def test_both_ways_to_the_dark_agree() -> None:
    """Dark by the device and dark by choice are the same tokens."""
    assert looks()["dark by device"] == looks()["dark by choice"]
    assert looks()["dark by device"].keys() == looks()["light"].keys()


def test_no_colour_stands_outside_the_tokens() -> None:
    """Every colour in a rule is a token; print alone may say white."""
    rules = re.sub(r"--[a-z0-9-]+: #[0-9A-Fa-f]{6}", "", CSS)

    assert set(re.findall(r"#[0-9A-Fa-f]{3,8}\b", rules)) <= {"#fff"}
    assert "rgb" not in rules
    assert "gradient" not in rules


def test_nothing_moves() -> None:
    """No animation and no transition: alarms do not blink."""
    assert "animation" not in CSS
    assert "transition" not in CSS
    assert "@keyframes" not in CSS


def test_fonts_come_from_the_device() -> None:
    """No font, picture or sheet is fetched from anywhere."""
    assert "url(" not in CSS
    assert "@import" not in CSS
    assert "@font-face" not in CSS
