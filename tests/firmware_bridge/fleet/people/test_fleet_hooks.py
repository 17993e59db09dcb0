"""Programs that are told of alarms: in order, once, signed; tried again after a failure."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from analytics.samples import DAY_MS, MINUTE_MS
from firmware_bridge.fleet.hooks import (
    LONGEST_WAIT_MS,
    TURN_MS,
    HookJson,
    HookRunner,
    begin,
    mark_of,
)
from firmware_bridge.fleet.records import hook_rows
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.notify.channels.webhook import signature
from tests.dashboards.fleet.stocked import NOW_MS, OURS, Stock
from tests.firmware_bridge.fleet.people.changes import alarm_row
from tests.firmware_bridge.fleet.people.far import Far


@pytest.fixture
def far(tmp_path: Path) -> Iterator[Far]:
    """A server with a certificate of its own."""
    found = Far(tmp_path)
    yield found
    found.stop()


class Telling:
    """A hook to `far` and a runner whose clock moves when told."""

    def __init__(self, records: Records, folder: Path, far: Far, *, everybody: bool = True) -> None:
        self.fleet, self.far, self.now_ms = Stock(folder, records), far, NOW_MS
        self.ours = self.fleet.site("steps", customer_no=self.fleet.customers[OURS])
        self.other = self.fleet.site("loft")
        customer_no = None if everybody else self.fleet.customers[OURS]
        with records.begin() as connection:
            self.number = hook_rows.add(connection, far.url, customer_no, NOW_MS)
            self.secret = begin(records, connection, self.number)
        self.records = records
        self.runner = HookRunner(records, far.reach(), lambda: self.now_ms)

    def told(self) -> list[str]:
        """Sites and changes as they arrived, in order."""
        bodies = [msgspec.json.decode(body, type=HookJson) for _, body, _ in self.far.seen]
        return [f"{c.site} {c.change}" for body in bodies for c in body.changes]

    @property
    def tries(self) -> int:
        """How many tries failed in a row."""
        with self.records.read() as connection:
            mark = mark_of(self.records, connection, self.number)
        assert mark is not None
        return mark.tries


def test_changes_are_told_once_and_in_order(records: Records, tmp_path: Path, far: Far) -> None:
    """A second runner (after a restart) tells nothing again."""
    telling = Telling(records, tmp_path, far)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    telling.runner.step()
    telling.fleet.rows(telling.other, "alarm", [alarm_row(2, NOW_MS)])
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(3, NOW_MS, "cleared", "normal")])
    for minutes in (3, 6):
        telling.now_ms = NOW_MS + minutes * MINUTE_MS
        HookRunner(records, far.reach(), lambda: telling.now_ms).step()

    assert telling.told() == ["steps raised", "loft raised", "steps cleared"]


def test_of_two_processes_one_tells_and_the_other_takes_over(
    records: Records, tmp_path: Path, far: Far
) -> None:
    """While the first one works the second is quiet; when it is gone, the second goes on."""
    telling = Telling(records, tmp_path, far)
    second = HookRunner(records, far.reach(), lambda: telling.now_ms)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    first = telling.runner.step()
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(2, NOW_MS, "cleared", "normal")])
    quiet = second.step()
    telling.now_ms += TURN_MS + 1
    loud = second.step()
    late = telling.runner.step()

    assert (first, quiet, loud, late) == (1, 0, 1, 0)
    assert telling.told() == ["steps raised", "steps cleared"]


def test_message_is_signed_with_the_secret_that_was_shown(
    records: Records, tmp_path: Path, far: Far
) -> None:
    """Whoever holds the secret can tell that it is ours."""
    telling = Telling(records, tmp_path, far)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    telling.runner.step()
    _, body, signed = far.seen[0]
    key = msgspec.json.decode(body, type=HookJson).key

    assert signed == signature(telling.secret, key, str(NOW_MS // 1000), body)


def test_hook_of_a_customer_is_told_of_their_sites_only(
    records: Records, tmp_path: Path, far: Far
) -> None:
    """Nor of a site that nobody adopted."""
    telling = Telling(records, tmp_path, far, everybody=False)
    stranger = telling.fleet.site("box", state="unknown", customer_no=telling.fleet.customers[OURS])
    for number, site in enumerate((telling.other, stranger, telling.ours)):
        telling.fleet.rows(site, "alarm", [alarm_row(number + 1, NOW_MS)])
    telling.runner.step()

    assert telling.told() == ["steps raised"]


def test_far_side_that_fails_is_tried_again_later_and_later(
    records: Records, tmp_path: Path, far: Far
) -> None:
    """Nothing is lost meanwhile, a wait never grows beyond an hour, and what is sent again is what
    was sent before, under the same key."""
    telling = Telling(records, tmp_path, far)
    far.answer = 503
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    telling.runner.step()
    telling.runner.step()
    assert (len(far.seen), telling.tries) == (1, 1)  # the second step came too early
    for _ in range(12):
        telling.now_ms += LONGEST_WAIT_MS
        telling.runner.step()
    assert telling.tries == 13
    far.answer = 204
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(2, NOW_MS, "cleared", "normal")])
    telling.now_ms += LONGEST_WAIT_MS
    keys = {msgspec.json.decode(body, type=HookJson).key for _, body, _ in far.seen}
    far.seen.clear()
    telling.runner.step()
    telling.runner.step()

    assert telling.told() == ["steps raised", "steps cleared"]
    assert telling.tries == 0
    assert keys == {msgspec.json.decode(far.seen[0][1], type=HookJson).key}


def test_one_dead_address_does_not_hold_up_another(
    records: Records, tmp_path: Path, far: Far
) -> None:
    """Each has a mark of its own."""
    telling = Telling(records, tmp_path, far)
    with records.begin() as connection:
        dead = hook_rows.add(connection, "https://nobody.example/", None, NOW_MS)
        begin(records, connection, dead)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    telling.runner.step()

    assert telling.told() == ["steps raised"]


def test_what_is_a_week_old_is_passed_over(records: Records, tmp_path: Path, far: Far) -> None:
    """Nobody wants to be told of last month's alarms."""
    telling = Telling(records, tmp_path, far)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS - 8 * DAY_MS)])
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(2, NOW_MS - MINUTE_MS)])
    telling.runner.step()

    assert telling.told() == ["steps raised"]


def test_ended_hook_is_told_nothing(records: Records, tmp_path: Path, far: Far) -> None:
    """From the moment it was ended."""
    from firmware_bridge.fleet.records.sight import ALL

    telling = Telling(records, tmp_path, far)
    telling.fleet.rows(telling.ours, "alarm", [alarm_row(1, NOW_MS)])
    with records.begin() as connection:
        assert hook_rows.end(connection, ALL, telling.number, NOW_MS)
    telling.runner.step()

    assert far.seen == []
