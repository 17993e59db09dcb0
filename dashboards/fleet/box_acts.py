"""What the office does about a site's box: a code, the end of its login, one of two boxes."""

from __future__ import annotations

from analytics.errors import ActRefused, LastLitreError, LinkError
from dashboards.fleet import sites
from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.records.boxes import Claim, accept_box, claim_of, keep_box

SITE = "/site/{site_no:int}"


def give_code(asked: Asked) -> Answer:
    """A code by which one box joins as this site, shown now and never again. Raises ActRefused."""
    if asked.here.state == "retired":
        return Absent()
    try:
        code = _enrolling(asked).code_within(asked.connection, asked.here.site, asked.doer)
    except LastLitreError as exc:
        if isinstance(exc, ActRefused):
            raise
        raise ActRefused([("site", "text")]) from exc
    return sites.about_page(asked, code)


def end_logins(asked: Asked) -> None:
    """Cut the site off at the broker, if this fleet gives logins. Raises ActRefused where the
    broker does not do as told: it is to be done again then."""
    if asked.enrolling is None or asked.site is None:
        return
    try:
        asked.enrolling.revoke(asked.site.site, asked.visit.person_no)
    except LinkError as exc:
        raise ActRefused([("site", "broker")]) from exc


def revoked(asked: Asked) -> Answer:
    """Its login works no more. Raises ActRefused where this fleet gives none."""
    _enrolling(asked)
    return _back(asked)


def take(asked: Asked) -> Answer:
    """Another box speaks for the site from now on. Raises ActRefused where it does not claim to."""
    claim, box = _claim(asked), asked.fields.get("box", "")
    if box not in claim.others:
        raise ActRefused([("box", "box")])
    accept_box(asked.connection, asked.here.site_no, box)
    _write(asked, "site.box-taken", box=box, before=asked.here.box)
    return _back(asked)


def keep(asked: Asked) -> Answer:
    """The box that is heard stays the one. Raises ActRefused where no other claims the site."""
    claim = _claim(asked)
    keep_box(asked.connection, asked.here.site_no)
    _write(asked, "site.box-kept", box=asked.here.box, others=list(claim.others))
    return _back(asked)


def _enrolling(asked: Asked) -> Enrolling:
    if asked.enrolling is None:
        raise ActRefused([("site", "no-joining")])
    return asked.enrolling


def _claim(asked: Asked) -> Claim:
    claim = claim_of(asked.connection, asked.here.site_no)
    if claim is None:
        raise ActRefused([("box", "box")])
    return claim


def _write(asked: Asked, act: str, **body: object) -> None:
    asked.doer.write(asked.connection, act, f"site {asked.here.site_no}", **body)


def _back(asked: Asked) -> Answer:
    return Moved(to=f"/site/{asked.here.site_no}/about")


ANSWERS: Answers = {
    ("POST", f"{SITE}/code"): give_code,
    ("POST", f"{SITE}/revoke"): revoked,
    ("POST", f"{SITE}/box/take"): take,
    ("POST", f"{SITE}/box/keep"): keep,
}
AGAIN = {path: f"{SITE}/about" for _, path in ANSWERS}
PREPARED = {f"{SITE}/revoke": end_logins, f"{SITE}/retire": end_logins}
"""The broker is talked to before the records are held."""
