"""A notifier at work on a real store: nothing lost, nothing twice, no storm."""

from __future__ import annotations

from pathlib import Path

from analytics.errors import SinkError
from analytics.samples import HOUR_MS, AlarmChange
from analytics.setup import LocalTime
from firmware_bridge.clock import VirtualClock
from firmware_bridge.notify.channels.email import NOTIFIER, Account
from firmware_bridge.notify.notice import Message, Notifier
from firmware_bridge.notify.policy import Policy
from firmware_bridge.notify.runner import Condition, NotifyLoop, Pace
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from tests.firmware_bridge.notify.told import NOON, TELLER, change, mail_server

AT_ONCE = Pace(poll_s=0.01, gather_s=0.0, first_wait_s=0.01, longest_wait_s=0.02, mend_wait_s=0.03)


class Pigeon:
    """Somebody who carries messages by hand, and may fail for a while."""

    def __init__(self) -> None:
        self.carried: list[Message] = []
        self.faults: list[SinkError] = []

    def send(self, message: Message) -> None:
        """Carry one, or fail."""
        if self.faults:
            raise self.faults.pop(0)
        self.carried.append(message)

    def close(self) -> None:
        """Fly home."""

    @property
    def notices(self) -> list[str]:
        """Keys carried."""
        return [n.key for m in self.carried for n in m.notices]


class Site:
    """A store with a notifier on it, turned by hand."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.clock = VirtualClock(NOON, 0.0)
        self.pigeon = Pigeon()
        self.store = Store.open(path, site_id="hs")
        self.loop = self.made()

    def made(self, pace: Pace = AT_ONCE, **policy: object) -> NotifyLoop:
        """A notifier that knows nothing but the store."""
        return NotifyLoop(
            name="pigeon",
            notifier=Notifier(name="pigeon", options=Account, open=lambda *_: self.pigeon),
            options=Account(host="", sender="", to=()),
            policy=Policy(**({"least": "low"} | policy)),  # type: ignore[arg-type]
            teller=TELLER,
            site_id="hs",
            local=LocalTime(),
            store=self.store,
            now_ms=self.clock.now_ms,
            pace=pace,
        )

    def journal(self, *changes: AlarmChange) -> None:
        """Store changes of alarms."""
        self.store.submit(Batch(alarms=tuple(("bar", c) for c in changes))).result()

    async def turn(self, times: int = 3) -> None:
        """Let the notifier look and send."""
        reader = self.store.reader()
        for _ in range(times):
            await self.loop.turn(reader)
        reader.close()

    def restart(self, **policy: object) -> None:
        """End the process and begin a new one on the same file."""
        self.store.close()
        self.store = Store.open(self.path, site_id="hs")
        self.loop = self.made(**policy)  # type: ignore[arg-type]

    def close(self) -> None:
        """End."""
        self.store.close()


async def test_what_is_raised_goes_out_once_over_restarts(tmp_path: Path) -> None:
    """Told, restarted, told nothing; what came meanwhile is told."""
    site = Site(tmp_path / "hs.sqlite")
    await site.turn()
    site.journal(change())
    await site.turn()
    site.restart()
    await site.turn()
    site.journal(change("data-gap", priority="low"))
    site.restart()
    await site.turn()
    site.close()

    assert site.pigeon.notices == ["hs/bar/leak/1/raised", "hs/bar/data-gap/2/raised"]


async def test_a_failing_way_is_tried_again_with_the_same_key(tmp_path: Path) -> None:
    """The same message until it is through; what piled up meanwhile comes as one."""
    site = Site(tmp_path / "hs.sqlite")
    await site.turn()
    site.pigeon.faults = [SinkError("storm"), SinkError("storm"), SinkError("storm")]
    site.journal(change())
    await site.turn(2)
    site.journal(change("data-gap", priority="low"), change("change-now", priority="medium"))
    assert site.loop.status.condition is Condition.AWAY
    assert site.loop.status.trouble == "storm"
    await site.turn(6)
    site.close()

    assert [len(m.notices) for m in site.pigeon.carried] == [1, 2]
    assert site.loop.status.condition is Condition.READY
    assert (site.loop.status.sent, site.loop.status.failed) == (2, 3)


async def test_a_fault_a_person_must_mend_is_said_so(tmp_path: Path) -> None:
    """Refused, with the hint, and tried seldom."""
    site = Site(tmp_path / "hs.sqlite")
    await site.turn()
    site.pigeon.faults = [SinkError("wrong password", "Check it.", retryable=False)]
    site.journal(change())
    reader = site.store.reader()
    pause = await site.loop.turn(reader)
    reader.close()
    site.close()

    assert site.loop.status.condition is Condition.REFUSED
    assert site.loop.status.hint == "Check it."
    assert pause >= AT_ONCE.mend_wait_s


async def test_a_flood_is_a_few_messages(tmp_path: Path) -> None:
    """Thirty alarms one after the other make no thirty messages; every one of them is told."""
    site = Site(tmp_path / "hs.sqlite")
    site.loop = site.made(Pace(poll_s=0.0, gather_s=0.0, most_an_hour=5, urgent_more=1))
    await site.turn()
    for number in range(30):
        site.journal(change(f"alarm-{number}", priority="medium"))
        await site.turn(2)
    assert len(site.pigeon.carried) == 5
    assert site.loop.status.waiting > 0
    site.restart()
    await site.turn()
    site.close()

    assert len(site.pigeon.carried) == 6
    assert len(site.pigeon.notices) == len(set(site.pigeon.notices)) == 30


async def test_a_bug_in_a_notifier_is_no_end_of_telling(tmp_path: Path) -> None:
    """Whatever it raises is counted, and tried again."""
    site = Site(tmp_path / "hs.sqlite")
    await site.turn()
    site.pigeon.faults = [ZeroDivisionError("a bug")]  # type: ignore[list-item]
    site.journal(change())
    await site.turn()
    site.close()

    assert site.pigeon.notices == ["hs/bar/leak/1/raised"]
    assert site.loop.status.failed == 1


async def test_old_history_is_not_told_at_the_first_start(tmp_path: Path) -> None:
    """What was over before is over; what stands is told."""
    site = Site(tmp_path / "hs.sqlite")
    site.journal(
        change(),
        change("leak", "cleared", "returned-unacknowledged", at_ms=NOON + 1),
        change("change-now", priority="medium"),
    )
    site.clock.advance(HOUR_MS)
    await site.turn()
    site.close()

    assert site.pigeon.notices == ["hs/bar/change-now/3/raised"]


async def test_mail_from_the_journal_to_the_mailbox(tmp_path: Path) -> None:
    """The whole way once: stored, told, mailed, noted."""
    site = Site(tmp_path / "hs.sqlite")
    with mail_server() as box:
        site.loop = NotifyLoop(
            name="owner",
            notifier=NOTIFIER,
            options=Account(
                host="localhost",
                port=box.port,
                security="none",
                sender="bar@example.org",
                to=("owner@example.org",),
            ),
            policy=Policy(),
            teller=TELLER,
            site_id="hs",
            local=LocalTime(),
            store=site.store,
            now_ms=site.clock.now_ms,
            pace=AT_ONCE,
        )
        site.journal(change())
        await site.turn()
        reader = site.store.reader()
        noted = reader.notices("owner")
        reader.close()
    site.close()

    assert [mail["Subject"] for mail in box.mails] == [
        "Harbour Steps: Water runs while the place is shut."
    ]
    assert "hs/bar/leak/1/raised" in noted
