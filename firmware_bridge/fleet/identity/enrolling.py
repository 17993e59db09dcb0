"""Enrolment at work: records and broker together.

The records are written first and the broker told after it, so that whatever breaks in between is
mended by doing the same again: a box that asks again gets the same login, and a revocation that did
not reach the broker is still to be done.
"""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Connection

from firmware_bridge.fleet.identity import enrolment
from firmware_bridge.fleet.identity.enrolment import Identity
from firmware_bridge.fleet.identity.keeper import Keeper, Login
from firmware_bridge.fleet.identity.sites_table import Joining
from firmware_bridge.fleet.identity.words import Claim, Joined
from firmware_bridge.fleet.people.acts import Doer
from firmware_bridge.fleet.records.engine import Records


class Enrolling:
    """What a fleet with a `[sites]` table can do about its sites' logins."""

    def __init__(self, records: Records, joining: Joining, now_ms: Callable[[], int]) -> None:
        self._records = records
        self._joining = joining
        self._keeper = Keeper(joining.keeper)
        self._now_ms = now_ms

    def code(self, site: str, person_no: int | None = None) -> str:
        """A code for a site, told only now; raises LastLitreError where no site is called that."""
        with self._records.begin() as connection:
            doer = Doer(person_no=person_no, at_ms=self._now_ms())
            return self.code_within(connection, site, doer)

    def code_within(self, connection: Connection, site: str, doer: Doer) -> str:
        """The same where the records are held already."""
        code = enrolment.give_code(
            connection, site, doer.at_ms, for_ms=self._joining.codes_ms, made_by=doer.person_no
        )
        doer.write(connection, "site.code", f"site {site}")
        return code

    def join(self, claim: Claim) -> Joined:
        """Let a box speak for the site its code was given for, and no earlier box any more.

        Raises LastLitreError, CodeRefused and OtherSite for a code that does not work; LinkError
        where the broker does not do as told: the same box asks again then.
        """
        now_ms = self._now_ms()
        with self._records.begin() as connection:
            identity = enrolment.take_code(connection, claim, now_ms)
            enrolment.enter_site(connection, self._records, identity.site, now_ms)
            earlier = [
                other
                for other in enrolment.active_of(connection, identity.site)
                if other.login != identity.login
            ]
        self._keeper.put(Login(login=identity.login, site=identity.site, secret=claim.secret))
        self._end(earlier, None)
        with self._records.begin() as connection:
            Doer(person_no=None, at_ms=now_ms).write(
                connection, "site.joined", f"site {identity.site}", login=identity.login
            )
        return self._told(identity)

    def revoke(self, site: str, person_no: int | None = None) -> list[Identity]:
        """No box speaks for this site any more; its connection is cut. The identities ended.

        Raises LinkError where the broker does not do as told; it is to be done again then.
        """
        doer = Doer(person_no=person_no, at_ms=self._now_ms())
        with self._records.begin() as connection:
            if enrolment.waits_until(connection, site, doer.at_ms) is not None:
                doer.write(connection, "site.code-withdrawn", f"site {site}")
            enrolment.withdraw_codes(connection, site, doer.at_ms)
            found = enrolment.active_of(connection, site)
        self._end(found, person_no)
        return found

    def _end(self, found: list[Identity], person_no: int | None) -> None:
        for identity in found:
            self._keeper.remove(identity.login)
            now_ms = self._now_ms()
            with self._records.begin() as connection:
                enrolment.mark_revoked(connection, identity.login, now_ms)
                Doer(person_no=person_no, at_ms=now_ms).write(
                    connection, "site.revoked", f"site {identity.site}", login=identity.login
                )

    def _told(self, identity: Identity) -> Joined:
        wanted = self._joining
        return Joined(
            site=identity.site,
            login=identity.login,
            topic_prefix=wanted.keeper.topic_prefix,
            host=wanted.host,
            port=wanted.port,
            tls=wanted.tls,
            ca=wanted.ca,
        )
