"""What can be asked of the API, as a value; the table is made of these, the rest of the table."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from dashboards.fleet.roles import ALL
from firmware_bridge.fleet.identity.tokens import Bearer
from firmware_bridge.fleet.people.acts import Doer
from firmware_bridge.fleet.priors import Taught
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.sight import Connection, Sight

ROOT = "/api/v1"


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """One request, checked: who asks, what may be seen, what was asked.

    `connection` is one state of the records for a question, one transaction for an act. `numbers`
    are those of the address, `query` and `body` the structs that the operation names. `taught` is
    what the cartridges taught, which takes a while and is kept for a while. A site that is longer
    than `silent_ms` without a word is silent.
    """

    records: Records
    taught: Callable[[], Taught]
    connection: Connection
    bearer: Bearer
    sight: Sight
    now_ms: int
    silent_ms: int
    numbers: dict[str, int] = {}
    query: Any = None
    body: Any = None

    @property
    def doer(self) -> Doer:
        """Who does it, for the audit."""
        return Doer(person_no=self.bearer.person_no, at_ms=self.now_ms)


class Operation(msgspec.Struct, frozen=True, kw_only=True):
    """One method of one address: the roles that may, what it takes, what it gives, who answers.

    `weight` is how many plain questions it counts for.
    """

    method: str
    path: str
    name: str
    says: str
    answer: Any
    do: Callable[[Any], Any]
    who: frozenset[str] = ALL
    query: type[msgspec.Struct] | None = None
    body: type[msgspec.Struct] | None = None
    status: int = 200
    needs_token: bool = True
    weight: float = 1.0

    @property
    def changes(self) -> bool:
        """Whether it needs a token that may change something."""
        return self.method != "GET"
