"""How often a password may be tried."""

from __future__ import annotations

from dashboards.access.patience import MOST_ADDRESSES, Patience
from tests.dashboards.access.served import Ticking


def fail(patience: Patience, address: str, times: int = 1) -> None:
    """So many wrong passwords."""
    for _ in range(times):
        patience.trying(address)


def test_five_failures_lock_an_address_and_no_other() -> None:
    """A minute, then twice as long after each further failure, a quarter of an hour at most."""
    clock = Ticking()
    patience = Patience(clock)
    fail(patience, "10.0.0.9", 4)
    assert patience.wait_s("10.0.0.9") == 0
    fail(patience, "10.0.0.9")
    assert patience.wait_s("10.0.0.9") == 60
    assert patience.wait_s("10.0.0.8") == 0
    clock.now_s += 60
    assert patience.wait_s("10.0.0.9") == 0
    fail(patience, "10.0.0.9")
    assert patience.wait_s("10.0.0.9") == 120
    fail(patience, "10.0.0.9", 9)
    assert patience.wait_s("10.0.0.9") == 900
    clock.now_s += 901

    assert patience.wait_s("10.0.0.9") == 0


def test_a_right_password_begins_anew() -> None:
    """Failures before it are forgotten."""
    patience = Patience(Ticking())
    fail(patience, "10.0.0.9", 4)
    patience.trying("10.0.0.9")
    patience.passed("10.0.0.9")
    fail(patience, "10.0.0.9", 4)

    assert patience.wait_s("10.0.0.9") == 0


def test_many_addresses_together_are_slowed_but_not_this_machine() -> None:
    """Thirty failures from thirty addresses: all wait, the machine itself does not."""
    clock = Ticking()
    patience = Patience(clock)
    for n in range(30):
        fail(patience, f"10.0.1.{n}")
    assert patience.wait_s("10.0.0.9") == 60
    assert patience.wait_s("127.0.0.1") == 0
    clock.now_s += 601

    assert patience.wait_s("10.0.0.9") == 0


def test_an_ipv6_network_counts_as_one_address() -> None:
    """A machine may take any address of its /64."""
    patience = Patience(Ticking())
    for n in range(5):
        fail(patience, f"2001:db8:1:2::{n}")

    assert patience.wait_s("2001:db8:1:2:ffff::1") == 60
    assert patience.wait_s("2001:db8:1:3::1") == 0
    fail(patience, "::ffff:10.0.0.9", 5)
    assert patience.wait_s("10.0.0.9") == 60


def test_addresses_remembered_are_bounded() -> None:
    """The oldest are forgotten, the newest still counts."""
    clock = Ticking()
    patience = Patience(clock)
    for n in range(MOST_ADDRESSES + 500):
        clock.now_s += 700  # so that the joint limit stays out of it
        fail(patience, f"10.{n // 65536}.{n // 256 % 256}.{n % 256}")
    fail(patience, "10.0.0.1", 5)

    assert patience.wait_s("10.0.0.1") == 60
