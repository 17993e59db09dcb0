"""`lastlitre note` and `lastlitre logbook`: write into the logbook from the shell, and read it."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analytics.errors import ActRefused, LastLitreError

if TYPE_CHECKING:
    from firmware_bridge.config import Site
    from firmware_bridge.logbook.hatch import Answer


@click.command(name="note")
@click.argument("site_file", type=click.Path(path_type=Path), required=False)
@click.argument("kind", required=False)
@click.argument("words", nargs=-1)
@click.option("--who", help="Who did it (default: you).")
@click.option("--undo", metavar="ENTRY", help="Take this entry back (its number in the logbook).")
@click.option("--correct", metavar="ENTRY", help="Stand in place of this entry.")
@click.option("--keys", metavar="KIND", help="Show the keys of an act and end.")
def note_command(
    site_file: Path | None,
    kind: str | None,
    words: tuple[str, ...],
    who: str | None,
    undo: str | None,
    correct: str | None,
    keys: str | None,
) -> None:
    """Write an act of KIND into the logbook of SITE_FILE; WORDS are key=value, as in a site file.

    Kinds: drop-test, cartridge-fitted, bypass-set, k-factor-set, probe-calibrated, cross-zero,
    utility-report, meter-reading, meter-replaced, closure, note. Without at=... it happened now.
    Nothing is ever edited: --undo and --correct write entries of their own; after a quarter of an
    hour they ask for a reason (note=...).
    """
    if keys is not None:
        _show_keys(keys)
        return
    if site_file is None or (kind is None) == (undo is None):
        raise LastLitreError("Say the site file, and an act or --undo.", "See: lastlitre note -h")
    import msgspec

    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.clock import SystemClock
    from firmware_bridge.logbook.from_words import act_from
    from firmware_bridge.logbook.hatch import Asked
    from firmware_bridge.logbook.put import put

    site = config.load(site_file)
    signed = who or getpass.getuser()
    if undo is not None:
        reason = " ".join(word.removeprefix("note=") for word in words)
        asked = Asked(who=signed, undo=_entry_id(site, undo), reason=reason)
    else:
        act = act_from(site.setup, str(kind), words, SystemClock().now_ms())
        corrects = _entry_id(site, correct) if correct else ""
        asked = Asked(who=signed, act=msgspec.structs.replace(act, corrects=corrects))
    answer = put(site, asked)
    _refuse(answer, site)
    person = usual_taste(site.wiring.language).reader()
    click.echo(person.say("note.written", n=answer.number, who=signed))


def _show_keys(kind: str) -> None:
    from firmware_bridge.config.dated import DATED
    from firmware_bridge.logbook.from_words import keys_of

    if kind not in DATED:
        raise LastLitreError(f"There is no act {kind!r}.", f"There is: {', '.join(DATED)}.")
    for line in keys_of(kind):
        click.echo(line)


def _entry_id(site: Site, number: str) -> str:
    from firmware_bridge.store.reader import Reader

    reader = Reader(Path(site.wiring.store_path))
    try:
        found = [e for e in reader.logbook() if str(e.seq) == number.removeprefix("#")]
    finally:
        reader.close()
    if not found:
        raise LastLitreError(f"There is no entry {number}.", "Numbers stand in: lastlitre logbook")
    return found[0].event.event_id


def _refuse(answer: Answer, site: Site) -> None:
    from dashboards.acts.said import faults_said
    from dashboards.taste import usual_taste

    if answer.trouble:
        raise LastLitreError(answer.trouble, answer.hint)
    if answer.faults:
        sentences = faults_said(
            ActRefused(answer.faults), usual_taste(site.wiring.language).reader()
        )
        raise LastLitreError("\n".join(sentences), "Nothing was written down.")


@click.command(name="logbook")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.option("--newest", default=40, show_default=True, help="So many entries; 0: all.")
def logbook_command(site_file: Path, newest: int) -> None:
    """Show the logbook of SITE_FILE, oldest first, and check that nothing in it was changed.

    Exit code 1 where an entry was changed, taken out or put in afterwards.
    """
    from dashboards.acts.said import logbook_view
    from dashboards.phrases.times import When
    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.clock import SystemClock
    from firmware_bridge.store.chain import verify_chain
    from firmware_bridge.store.reader import Reader

    site = config.load(site_file)
    store = Reader(Path(site.wiring.store_path))
    entries = store.logbook()
    store.close()
    reader = usual_taste(site.wiring.language).reader()
    when = When(reader.language.calendar, site.setup.local_time, SystemClock().now_ms())
    lines = tuple(line.line_id for line in site.setup.lines)
    view = logbook_view(entries, verify_chain(entries), lines, reader, when)
    colon, semicolon = reader.say("page.colon"), reader.say("page.semicolon")
    for row in view.rows[: newest or None][::-1]:
        facts = f"{semicolon} ".join(f"{name}{colon} {value}" for name, value in row.facts)
        told = [row.line, row.title, row.who, facts, row.note, row.state]
        click.echo(f"{row.number:>6}  {row.when}  {' | '.join(part for part in told if part)}")
    click.echo(view.chain)
    if not view.whole:
        sys.exit(1)
