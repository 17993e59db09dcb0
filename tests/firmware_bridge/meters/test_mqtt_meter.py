"""Readings by MQTT from a real broker: paths, own times, retained, doubled and huge messages."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from analytics.errors import ConfigError
from firmware_bridge.readings.letters import Letter, LetterDecoder
from firmware_bridge.readings.numbers import PULSES
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.meters.at_work import SITE, at_work, site_with
from tests.peers import broker, password_file

PATHS = """
topic = "bar/water"
outlet_conductivity = "probe.ec.0"
inlet_conductivity = "probe.ec.1"
flow_count = "n"
"""


def meter(port: int, more: str = PATHS) -> str:
    """A meter at this broker."""
    host = "localhost" if "tls" in more else "127.0.0.1"
    return f'\n[[meter]]\ndriver = "mqtt"\nhost = "{host}"\nbroker_port = {port}\n{more}\n'


@contextmanager
def publisher(port: int) -> Iterator[Any]:
    """A client that publishes and waits until the broker has it."""
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.connect("127.0.0.1", port)
    client.loop_start()

    def publish(body: Any, *, retain: bool = False, topic: str = "bar/water") -> None:
        payload = body if isinstance(body, bytes) else json.dumps(body)
        client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(15)

    try:
        yield publish
    finally:
        client.disconnect()
        client.loop_stop()


def body(ec: float, n: int, **more: Any) -> dict[str, Any]:
    """A message."""
    return {"probe": {"ec": [ec, 662.0]}, "n": n, **more}


@pytest.mark.peer
async def test_messages_become_rows(tmp_path: Path) -> None:
    """Channels by path; what is no JSON or too long is counted and costs nothing."""
    with broker(tmp_path) as server, publisher(server.port) as publish:
        publish(body(1.0, 1), retain=True)
        async with at_work(site_with(meter(server.port))) as rig:
            await rig.until(lambda r: r.health.counts.get("messages_retained"), "the retained one")
            publish(body(557.0, 100))
            publish(b"\xff{")
            publish(b"[" * 70_000)
            publish(body(558.0, 130))
            await rig.rows_more(2 - len(rig.rows))

            assert rig.rows.outlet_us_cm.tolist() == [557.0, 558.0]
            assert rig.rows.inlet_us_cm.tolist() == [662.0, 662.0]
            assert rig.pulses == 30
            assert rig.health.counts["messages_strange"] == 1
            assert rig.health.counts["messages_too_long"] == 1
            assert rig.health.faults == 0


@pytest.mark.peer
async def test_messages_with_a_time_of_their_own_are_kept_while_nobody_listens(
    tmp_path: Path,
) -> None:
    """The broker keeps them; each is dated by itself; one that comes twice counts once."""
    with broker(tmp_path) as server, publisher(server.port) as publish:
        site = site_with(meter(server.port, PATHS + 'time = "t"\n'))
        async with at_work(site) as rig:
            await rig.until(lambda r: r.health.open, "the broker")
            publish(body(557.0, 100, t="2026-03-02T09:30:00Z"))
            await rig.rows_more(1)
            state = rig.lots[-1].state
        publish(body(558.0, 110, t="2026-03-02T09:30:01Z"))
        publish(body(558.0, 110, t=1_772_443_801))
        publish(body(559.0, 120, t=1_772_443_802_000))
        async with at_work(site, state=state) as rig:
            await rig.rows_more(2)

            assert rig.rows.at_ms.tolist() == [1_772_443_801_000, 1_772_443_802_000]
            assert rig.pulses == 20
            assert rig.health.counts["rows_doubled"] == 1


@pytest.mark.peer
async def test_a_broker_that_goes_and_comes_back(tmp_path: Path) -> None:
    """Said with what to check; read on when it is there again."""
    with broker(tmp_path) as server:
        async with at_work(site_with(meter(server.port))) as rig:
            await rig.until(lambda r: r.health.open, "the broker")
            server.kill()
            await rig.until(lambda r: r.health.failures >= 2, "failures")
            assert f"broker 127.0.0.1:{server.port}" in rig.health.last_fault
            await asyncio.to_thread(server.start)
            with publisher(server.port) as publish:
                for n in range(500):
                    publish(body(557.0, n))
                    await asyncio.sleep(0.02)
                    if len(rig.rows):
                        break

            assert rig.newest("outlet_us_cm") == 557.0


@pytest.mark.peer
async def test_user_and_password_by_environment_and_tls(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A secret that is not there is said before anything starts; a wrong one by the broker."""
    passwords = password_file(tmp_path, "meter", "grinder-42")
    settings_ = ("allow_anonymous false", f"password_file {passwords}")
    with broker(tmp_path / "b", *settings_, tls=True) as server:
        secrets = (
            f'tls = true\nca_file = "{server.ca_file}"\n'
            'user_env = "METER_USER"\npassword_env = "METER_PASSWORD"\n'
        )
        site = site_with(meter(server.port, PATHS + secrets))
        with pytest.raises(ConfigError, match="METER_USER is not set"):
            async with at_work(site):
                pass
        monkeypatch.setenv("METER_USER", "meter")
        monkeypatch.setenv("METER_PASSWORD", "wrong-one")
        async with at_work(site) as rig:
            await rig.until(lambda r: r.health.failures >= 1, "a failure")
            assert "wrong-one" not in rig.health.last_fault
            assert "lets us not in" in rig.health.last_fault
        monkeypatch.setenv("METER_PASSWORD", "grinder-42")
        async with at_work(site) as rig:
            await rig.until(lambda r: r.health.open, "the broker")


def decoded(decoder: LetterDecoder, *letters: Letter) -> list[Any]:
    """What a decoder makes of letters."""
    return decoder.decode(b"".join(msgspec.json.encode(x) + b"\n" for x in letters))


def test_pulses_sent_again_are_not_counted_again() -> None:
    """A message that may have been delivered before is passed over where it has no time."""
    decoder = LetterDecoder({PULSES: "p"})

    rows = decoded(decoder, Letter(p='{"p": 3}'), Letter(p='{"p": 3}', d=True))

    assert [row.pulses for row in rows] == [3]
    assert decoder.counts == {"messages_doubled": 1}


def test_a_missing_number_names_its_path() -> None:
    """The other channels of the message are kept."""
    decoder = LetterDecoder({"outlet_conductivity": "ec", "inlet_conductivity": "in.ec"})

    rows = decoded(decoder, Letter(p='{"ec": "557,5"}'))

    assert rows[0].values == {"outlet_us_cm": 557.5}
    assert "no number at in.ec" in decoder.complaint


@settings(max_examples=80)
@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=6),
        lambda inner: (
            st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abt"), inner, max_size=3)
        ),
        max_leaves=12,
    ),
    st.booleans(),
)
def test_any_json_is_taken(content: Any, timed: bool) -> None:
    """No message raises anything, and no value is infinite or of the year 9999."""
    decoder = LetterDecoder(
        {"outlet_conductivity": "a.b", "flow_count": "a.0", "inlet_conductivity": "b"},
        time="t" if timed else None,
    )
    for row in decoded(decoder, Letter(p=json.dumps(content))):
        assert all(abs(v) < 1e301 for v in row.values.values())
        assert row.at_ms is None or 0 < row.at_ms < 1e15


def test_faults_between_options_are_said() -> None:
    """Two counters, a certificate without encryption, no channel at all."""
    head = SITE.format(k_factor="1000 pulse/L")
    both = meter(1883, 'topic = "a"\nflow_count = "n"\nflow_pulses = "p"\nca_file = "x"\n')
    none = meter(1883, 'topic = "a"\n')

    assert [f.key for f in compiled(head + both)] == ["flow_pulses", "ca_file"]  # type: ignore[union-attr]
    assert [f.key for f in compiled(head + none)] == ["outlet_conductivity"]  # type: ignore[union-attr]
