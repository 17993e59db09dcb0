"""What lists say of a line: why somebody should go, by when, with what."""

from __future__ import annotations

from collections.abc import Iterable

from analytics.fleet.bring import Item, Thing, packed
from analytics.fleet.due import Need
from analytics.samples import Spread
from dashboards.fleet.asked import Asked
from dashboards.fleet.standing import Stands, is_new
from dashboards.phrases.numbers import EN_DASH
from firmware_bridge.fleet.records.line_rows import LineRow


def by_words(asked: Asked, one: Stands) -> str:
    """By when somebody should have been there, as the margin has it."""
    if one.due.need is Need.ACT:
        return asked.say("fleet.by.now")
    if one.due.by_ms is None:
        return asked.say("fleet.by.unknown")
    if one.due.by_ms <= asked.now_ms:
        return asked.say("fleet.by.now")
    when = asked.when
    day = when.day(one.due.by_ms)
    return when.brief_medium(day) if day.year == when.today.year else when.month(day)


def reasons(asked: Asked, one: Stands) -> tuple[str, ...]:
    """Why this line stands where it stands, the reason that weighs most first."""
    row, need = one.row, one.due.need
    told = []
    if need is Need.SILENT or _is_silent(asked, row):
        told.append(silence(asked, row.heard_ms))
    if row.alarms:
        told.append(_alarm(asked, row))
    told += [doubt_words(asked, code) for code in row.doubts]
    if need is Need.ACT and _is_past(asked, row):
        told.append(_past(asked, row))
    elif need is Need.DOUBT and not row.doubts and row.end_p50_ms is not None:
        told.append(asked.say("fleet.why.untrusted"))
    elif row.end_p50_ms is None:
        told.append(asked.say("fleet.why.new" if is_new(asked, row) else "fleet.why.unknown"))
    else:
        told.append(_left(asked, one))
    return tuple(told)


def silence(asked: Asked, heard_ms: int | None) -> str:
    """Since when nothing was heard."""
    if heard_ms is None:
        return asked.say("fleet.why.never-heard")
    when = asked.when
    day = when.brief_medium(when.day(heard_ms))
    return asked.say("fleet.why.silent", moment=f"{day}, {when.clock(heard_ms)}")


def doubt_words(asked: Asked, code: str) -> str:
    """A doubt in a sentence; one that this program does not know is named as it came."""
    key = f"doubt.{code}"
    return asked.say(key) if asked.reader.has(key) else asked.say("doubt.other", code=code)


def chance_words(asked: Asked, one: Stands) -> str:
    """The chance that it runs out before the round after next; a silence makes it a range."""
    if one.due.now is not None and one.due.now >= 0.5:
        return asked.say("fleet.chance.past")
    if len(one.due.chances) < 2 or one.due.chances[1] is None:
        return EN_DASH
    low, high = one.due.low[1], one.due.high[1]
    if one.due.need is Need.SILENT and low is not None and high is not None:
        first, last = asked.reader.chance(low), asked.reader.chance(high)
        return first if first == last else f"{first} {asked.say('fleet.chance.to')} {last}"
    return asked.reader.chance(one.due.chances[1])


def item_words(asked: Asked, item: Item) -> str:
    """A thing to bring."""
    if item.thing is not Thing.CARTRIDGE:
        return asked.say(f"fleet.thing.{item.thing}")
    return cartridge_words(asked, item.medium, item.size)


def cartridge_words(asked: Asked, medium: str, size: str) -> str:
    """ "hydrogen, size 3"."""
    key = f"medium.{medium}"
    family = asked.say(key) if asked.reader.has(key) else medium or asked.say("fleet.no-medium")
    return asked.say("fleet.cartridge", medium=family, size=size) if size else family


def load_words(asked: Asked, items: Iterable[Item]) -> tuple[str, ...]:
    """The van's load: "2 × hydrogen, size 3"."""
    return tuple(
        asked.say("fleet.count-of", n=count, what=item_words(asked, item))
        for item, count in packed(items)
    )


def listed(asked: Asked, words: Iterable[str]) -> str:
    """Things one after another, told apart by the language's semicolon."""
    return f"{asked.say('page.semicolon')} ".join(words)


def spread_of(row: LineRow) -> Spread | None:
    """Litres left, where they are known."""
    p05, p50, p95 = row.remaining_l_p05, row.remaining_l_p50, row.remaining_l_p95
    if p05 is None or p50 is None or p95 is None:
        return None
    return Spread(p05=p05, p50=p50, p95=p95)


def outlet_of(row: LineRow) -> Spread | None:
    """Hardness to the machine in mmol/L, as last estimated."""
    newest = row.newest_rows().get("estimate")
    found = (
        [newest.numbers.get(f"outlet_mmol_l_{p}") for p in ("p05", "p50", "p95")] if newest else []
    )
    p05, p50, p95 = found if len(found) == 3 else (None, None, None)
    if p05 is None or p50 is None or p95 is None:
        return None
    return Spread(p05=p05, p50=p50, p95=p95)


def _is_silent(asked: Asked, row: LineRow) -> bool:
    return row.heard_ms is None or asked.now_ms - row.heard_ms > asked.house.silent_ms


def _is_past(asked: Asked, row: LineRow) -> bool:
    return row.end_p50_ms is not None and row.end_p50_ms <= asked.now_ms


def _alarm(asked: Asked, row: LineRow) -> str:
    rule = row.alarms[0][0]
    key = f"alarm.{rule}"
    told = asked.say(key) if asked.reader.has(key) else rule
    more = len(row.alarms) - 1
    if more:
        return asked.say("fleet.why.alarms", told=told, n=more)
    return told if told.endswith(".") else f"{told}."


def _past(asked: Asked, row: LineRow) -> str:
    assert row.end_p50_ms is not None
    day = asked.when.brief_medium(asked.when.day(row.end_p50_ms))
    outlet = outlet_of(row)
    if outlet is None:
        return asked.say("fleet.why.past", day=day)
    return asked.say("fleet.why.past-gets", day=day, outlet=asked.reader.hardness(outlet).full)


def _left(asked: Asked, one: Stands) -> str:
    row, when = one.row, asked.when
    if one.due.ends_by == "time" and row.end_p50_ms is not None:
        return asked.say("fleet.why.time", day=when.short(when.day(row.end_p50_ms)))
    if one.due.ends_by == "carbon" and row.end_p50_ms is not None:
        return asked.say("fleet.why.carbon", day=when.short(when.day(row.end_p50_ms)))
    litres = spread_of(row)
    if litres is None:
        return asked.say("fleet.why.unknown")
    return asked.say("fleet.why.left", litres=asked.reader.volume(litres).full)
