"""The page Tokens: by which programs ask the fleet as whoever made them would."""

from __future__ import annotations

import msgspec

from analytics.errors import ActRefused, LastLitreError
from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.roles import CUSTOMER
from firmware_bridge.fleet.identity import tokens
from firmware_bridge.fleet.identity.tokens import DAY_MS, Token

DAYS = (7, 30, 90, 365)
USUAL = 90


class ShownToken(msgspec.Struct, frozen=True, kw_only=True):
    """One token: what it is for, what it may, until when, when it was used."""

    number: int
    what_for: str
    said: str


class TokensView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page; `text` is told once, to whoever made the token."""

    tokens: tuple[ShownToken, ...]
    days: tuple[tuple[int, str], ...]
    usual: int
    may_change: bool
    typed: str
    text: str


def page(asked: Asked) -> Answer:
    """One's own tokens that work."""
    return _page(asked)


def make(asked: Asked) -> Answer:
    """A new token, shown now and never again. Raises ActRefused."""
    what_for, person_no = asked.fields.get("what_for", ""), _myself(asked)
    days = asked.fields.get("days", "")
    change = bool(asked.fields.get("change")) and asked.visit.role != CUSTOMER
    if not tokens.is_purpose(what_for):
        raise ActRefused([("what_for", "purpose")])
    try:
        number, text = tokens.make_token(
            asked.connection,
            person_no,
            what_for,
            asked.now_ms,
            for_ms=(int(days) if days in map(str, DAYS) else USUAL) * DAY_MS,
            may_change=change,
        )
    except LastLitreError as exc:
        raise ActRefused([("what_for", "enough-tokens")]) from exc
    about = f"person {person_no}"
    asked.doer.write(asked.connection, "token.made", about, token=number, change=change)
    return _page(asked, text)


def end(asked: Asked) -> Answer:
    """One's own token works no more."""
    person_no, number = _myself(asked), asked.numbers["token_no"]
    if not tokens.revoke_token(asked.connection, person_no, number, asked.now_ms):
        return Absent()
    asked.doer.write(asked.connection, "token.revoked", f"person {person_no}", token=number)
    return Moved(to="/tokens")


def _myself(asked: Asked) -> int:
    assert asked.visit.person_no is not None  # the table lets nobody else in
    return asked.visit.person_no


def _page(asked: Asked, text: str = "") -> Answer:
    found = tokens.tokens_of(asked.connection, _myself(asked))
    view = TokensView(
        tokens=tuple(_shown(asked, token) for token in found if token.works(asked.now_ms)),
        days=tuple((n, asked.say("tokens.days", n=n)) for n in DAYS),
        usual=USUAL,
        may_change=asked.visit.role != CUSTOMER,
        typed=asked.typed.get("what_for", ""),
        text=text,
    )
    return Sheet(template="fleet/tokens.html", view=view)


def _shown(asked: Asked, token: Token) -> ShownToken:
    when = asked.when
    used = token.used_ms
    said = (
        asked.say("tokens.changes" if token.may_change else "tokens.reads"),
        asked.say("tokens.until", day=when.short(when.day(token.until_ms))),
        asked.say("tokens.unused")
        if used is None
        else asked.say("tokens.used", day=when.short(when.day(used))),
    )
    return ShownToken(number=token.token_no, what_for=token.what_for, said=", ".join(said))


ANSWERS: Answers = {
    ("GET", "/tokens"): page,
    ("POST", "/tokens"): make,
    ("POST", "/tokens/{token_no:int}/end"): end,
}
AGAIN = {"/tokens": "/tokens"}
