"""The code a site is enrolled by: read out over a telephone, typed in once, then worth nothing.

Sixteen signs of thirty-one without look-alikes (no 0 O 1 I L), the last of them a check: fifteen
signs by chance are 74 bits. With weights 1 to 16 and a prime number of signs, one wrong sign and
any two exchanged ones are always found. The fleet keeps a digest only.
"""

from __future__ import annotations

import hashlib
import secrets

from analytics.errors import LastLitreError

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
LENGTH, GROUP = 16, 4
LONGEST_TYPED = 64


def new_code() -> str:
    """A code nobody has seen, in groups of four."""
    values = [secrets.randbelow(len(SIGNS)) for _ in range(LENGTH - 1)]
    return shown("".join(SIGNS[value] for value in (*values, _check(values))))


def plain(typed: str) -> str:
    """The code as it counts: capitals without spaces and hyphens.

    Raises LastLitreError where it cannot be a code, because a sign is missing or mistyped.
    """
    code = "".join(typed[:LONGEST_TYPED].split()).replace("-", "").upper()
    values = [SIGNS.find(sign) for sign in code]
    if len(values) != LENGTH or -1 in values or _check(values[:-1]) != values[-1]:
        raise LastLitreError(
            "This code is mistyped: one sign is wrong or missing.",
            f"It has {LENGTH} signs in groups of {GROUP}, and neither 0, O, 1, I nor L.",
        )
    return code


def shown(code: str) -> str:
    """A code in groups, as a person reads it."""
    return "-".join(code[at : at + GROUP] for at in range(0, len(code), GROUP))


def digest_of(code: str) -> str:
    """What the fleet keeps of a plain code."""
    return hashlib.sha256(b"enrol " + code.encode()).hexdigest()


def _check(values: list[int]) -> int:
    """The last value: all sixteen, each times its place, sum up to a multiple of 31."""
    prime = len(SIGNS)
    total = sum(place * value for place, value in enumerate(values, 1))
    return -total * pow(LENGTH, -1, prime) % prime
