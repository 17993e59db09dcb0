"""What holds for every sink there is; a new file is tested by being there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest

from analytics.errors import SinkError
from analytics.registry import discover
from firmware_bridge.forward.sink import Heard, OpenSink, Sink, sink_of_kind
from tests import peers
from tests.firmware_bridge.forward.outbox import CARD, now_ms, parcel, readings
from tests.peers import free_port

SINKS = discover("firmware_bridge.forward.sinks", "SINK", Sink)
every_sink = pytest.mark.parametrize("sink", SINKS.values(), ids=SINKS)


def options_for_nobody(sink: Sink) -> msgspec.Struct:
    """Options that lead to a port where nobody listens."""
    port = free_port()
    given: dict[str, Any] = {"host": "127.0.0.1", "port": port, "url": f"http://127.0.0.1:{port}"}
    wanted = {field.name for field in msgspec.structs.fields(sink.options)}
    return sink.options(**{name: value for name, value in given.items() if name in wanted})


def told(at_work: OpenSink) -> int | None:
    """What the far side has confirmed, as far as it can be asked."""
    try:
        return at_work.heard().durable_up_to
    except SinkError:
        return None


@every_sink
def test_sink_is_found_by_its_name(sink: Sink) -> None:
    """The word of the site file leads to the sink, and only to it."""
    assert sink_of_kind(sink.name) is sink
    assert sink.rows_a_send >= 60


def test_unknown_sink_is_named() -> None:
    """A name that no file has is told, not guessed."""
    with pytest.raises(LookupError, match="'carrier-pigeon'"):
        sink_of_kind("carrier-pigeon")


@every_sink
def test_nobody_there_is_told_and_may_be_tried_again(sink: Sink) -> None:
    """With nobody listening a send fails with a mend, nothing is done, and close is quiet."""
    at_work = sink.open(options_for_nobody(sink), CARD, now_ms)
    for _ in range(2):
        with pytest.raises(SinkError) as found:
            at_work.send(parcel(readings(1, 3)))
        assert found.value.retryable
        assert found.value.hint
    assert told(at_work) is None
    at_work.close()
    at_work.close()


@every_sink
def test_opening_and_closing_needs_nobody(sink: Sink) -> None:
    """Neither opening a sink nor closing it touches the network."""
    at_work = sink.open(options_for_nobody(sink), CARD, now_ms)
    at_work.close()


@pytest.mark.peer
@every_sink
def test_success_alone_confirms_nothing(sink: Sink, tmp_path: Path) -> None:
    """What a server has taken is not thought safe before its far side has said or shown so."""
    with peers.broker(tmp_path / "broker") as broker, peers.front() as front:
        given = {"host": "127.0.0.1", "port": broker.port, "url": front.url}
        wanted = {field.name for field in msgspec.structs.fields(sink.options)}
        options = sink.options(**{name: value for name, value in given.items() if name in wanted})
        at_work = sink.open(options, CARD, now_ms)
        at_work.send(parcel(readings(1, 3)))
        assert at_work.heard() == Heard()
        at_work.close()


@every_sink
def test_options_do_not_change_and_hide_secrets(sink: Sink) -> None:
    """Options are frozen, and what is secret in them is not in their text."""
    options = options_for_nobody(sink)
    secrets = [f.name for f in msgspec.structs.fields(sink.options) if "Secret" in str(f.type)]
    assert secrets
    for name in secrets:
        kind = type(getattr(options, name))
        assert "kettle" not in repr(msgspec.structs.replace(options, **{name: kind("kettle")}))
    with pytest.raises(AttributeError):
        setattr(options, secrets[0], "")
