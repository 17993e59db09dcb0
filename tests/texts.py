"""What a translator needs: `python -m tests.texts` lists what is amiss in each language;
`python -m tests.texts export [FOLDER]` writes every English text, a file of lines a module:
key, tab, text."""

from __future__ import annotations

import importlib
import pkgutil
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import click

from dashboards.phrases import en
from dashboards.phrases.language import FALLBACK, languages

ENGLISH = languages()[FALLBACK].texts


def blanks(text: str) -> tuple[str, ...]:
    """Names of the blanks of a text, sorted, a name as often as it stands."""
    return tuple(sorted(name for _, name, _, _ in Formatter().parse(text) if name))


def amiss(code: str) -> Iterator[str]:
    """What is wrong with a language's texts, a line each: missing, surplus, other blanks."""
    texts = languages()[code].texts
    for key in ENGLISH.keys() - texts.keys():
        yield f"missing\t{key}\t{ENGLISH[key]}"
    for key in texts.keys() - ENGLISH.keys():
        yield f"surplus\t{key}\t{texts[key]}"
    for key in ENGLISH.keys() & texts.keys():
        if set(blanks(texts[key])) != set(blanks(ENGLISH[key])):
            yield f"blanks\t{key}\t{ENGLISH[key]}\t{texts[key]}"


def same_as_english(code: str) -> dict[str, str]:
    """Texts with words in them that stand as in English, by key."""
    texts = languages()[code].texts
    return {
        key: text
        for key, text in texts.items()
        if text == ENGLISH.get(key) and re.search("[A-Za-z]{2}", re.sub(r"\{\w*\}", "", text))
    }


def by_module() -> dict[str, dict[str, str]]:
    """The English texts by the file they stand in."""
    return {
        module.name: importlib.import_module(f"{en.__name__}.{module.name}").TEXTS
        for module in pkgutil.iter_modules(en.__path__)
    }


def export(folder: Path) -> None:
    """Write the English texts, a file a module."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, texts in by_module().items():
        lines = [f"{key}\t{text}".replace("\n", "\\n") for key, text in texts.items()]
        (folder / f"{name}.tsv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        click.echo(f"{folder / name}.tsv: {len(texts)} texts")


def main(words: list[str]) -> int:
    """List what is amiss, or export; 1 where something is amiss."""
    if words[:1] == ["export"]:
        export(Path(words[1] if len(words) > 1 else "texts"))
        return 0
    wrong = 0
    for code in languages():
        found = sorted(amiss(code))
        wrong += len(found)
        alike = "" if code == FALLBACK else f", {len(same_as_english(code))} as in English"
        click.echo(f"{code}: {len(languages()[code].texts)} texts, {len(found)} amiss{alike}")
        for line in found:
            click.echo(f"  {line}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
