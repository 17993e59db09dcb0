"""A site joins: by its code alone, tried by one address only so often."""

from __future__ import annotations

import math

import msgspec
import structlog

from analytics.errors import LastLitreError, LinkError
from dashboards.access.patience import Patience
from dashboards.fleet.api.problems import Refusal
from firmware_bridge.fleet.identity.codes import plain
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.enrolment import CodeRefused, OtherSite
from firmware_bridge.fleet.identity.words import Claim, Joined

log = structlog.get_logger(__name__)


class Newcomer(msgspec.Struct, frozen=True, kw_only=True):
    """One box that wants to join. `enrolling` is None where the fleet file has no such table."""

    enrolling: Enrolling | None
    patience: Patience
    address: str
    claim: Claim


def join(newcomer: Newcomer) -> Joined:
    """What the box is told; raises Refusal.

    Only a sound code that does not work counts as a failed try; who shows one that works begins
    anew.
    """
    enrolling, patience, address = newcomer.enrolling, newcomer.patience, newcomer.address
    if enrolling is None:
        raise Refusal(404, "Sites do not join this fleet by a code: its file has no [sites].")
    _check_turn(patience, address)
    try:
        plain(newcomer.claim.code)
    except LastLitreError as fault:
        raise Refusal(400, _said(fault)) from fault
    patience.trying(address)
    try:
        joined = enrolling.join(newcomer.claim)
    except CodeRefused as fault:
        log.warning("fleet.code-refused", address=address)
        raise Refusal(403, _said(fault)) from fault
    except (OtherSite, LinkError) as fault:
        patience.passed(address)
        raise _refusal(fault) from fault
    patience.passed(address)
    log.info("fleet.joined", site=joined.site, login=joined.login)
    return joined


def _check_turn(patience: Patience, address: str) -> None:
    if wait_s := patience.wait_s(address):
        seconds = str(math.ceil(wait_s))
        detail = f"Too many codes did not work. Try again in {seconds} s."
        raise Refusal(429, detail, retry_after=seconds)


def _refusal(fault: LastLitreError) -> Refusal:
    if isinstance(fault, OtherSite):
        return Refusal(409, _said(fault))
    log.warning("fleet.not-joined", reason=str(fault), hint=fault.hint)
    return Refusal(
        503,
        "The code is good, but the broker cannot be reached. Say the same again in a minute.",
        retry_after="60",
    )


def _said(fault: LastLitreError) -> str:
    return f"{fault} {fault.hint}".strip()
