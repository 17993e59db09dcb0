"""The servers the other tests rest on: what they promise is true."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import peers


def test_missing_program_names_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a program is not there, the failure says what to install."""
    monkeypatch.setitem(peers.PACKAGES, "no-such-server", "some-package")
    with pytest.raises(peers.MissingPeer, match="apt-get install some-package"):
        peers.program("no-such-server")


@pytest.mark.peer
def test_killed_server_starts_again_on_its_port(tmp_path: Path) -> None:
    """A killed server is gone at once, and comes back where it was."""
    with peers.broker(tmp_path / "broker") as server:
        port = server.port
        server.kill()
        assert not peers.listens(port)
        server.start()
        assert peers.listens(port)
    assert not peers.listens(port)


@pytest.mark.peer
def test_wrong_setting_is_told_in_the_servers_words(tmp_path: Path) -> None:
    """A server that does not start fails with what it wrote."""
    with (
        pytest.raises(AssertionError, match="no_such_setting"),
        peers.broker(tmp_path / "broker", "no_such_setting true"),
    ):
        pass


@pytest.mark.peer
def test_doubled_sample_is_noticed(tmp_path: Path) -> None:
    """A store that keeps one instant twice does not pass for one that keeps it once."""
    with peers.time_series_store(tmp_path / "s", "-dedup.minScrapeInterval=0s") as server:
        lines = b"reading,site=s a=1 1767225600000\nreading,site=s a=2 1767225600000"
        server.write(lines)
        server.write(lines)
        with pytest.raises(AssertionError, match="reading_a has an instant twice"):
            peers.eventually("both", server.samples)
