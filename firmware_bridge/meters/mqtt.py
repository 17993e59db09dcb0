"""A meter whose readings come as JSON messages from an MQTT broker."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.readers import (
    asks,
    env_name,
    file_path,
    host,
    matching,
    whole,
)
from firmware_bridge.config.secret import settled
from firmware_bridge.config.value_units import ValueUnits
from firmware_bridge.config.wiring import OwnFault
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.channels import COUNT
from firmware_bridge.readings.letters import LetterDecoder
from firmware_bridge.readings.numbers import PULSES
from firmware_bridge.readings.value_driver import ValueDriver, counter_of

PATH = matching(r"\.|[^.\s]{1,100}(\.[^.\s]{1,100}){0,7}", 'names joined by points, or "."')
TOPIC = matching(r"[^#+\s\0]{1,200}", "a topic without #, + and spaces")


class Mqtt(ValueUnits, frozen=True, kw_only=True):
    """Readings as JSON messages from an MQTT broker: a channel is a path into the message, names
    joined by points, numbers for places in a list, "." where the message is the number itself."""

    host: Annotated[str, asks("The broker.", host, example='"127.0.0.1"', live=True)]
    broker_port: Annotated[
        int | None,
        asks("Its port; left out, 1883, or 8883 with tls.", whole(1, 65_535), example="1883"),
    ] = None
    topic: Annotated[str, asks("Where the readings come.", TOPIC, example='"bar/water"', live=True)]
    tls: Annotated[bool, asks("Whether the line is encrypted.", example="false")] = False
    ca_file: Annotated[
        str | None,
        asks("Certificate authority, where not the system's.", file_path, example='"ca.pem"'),
    ] = None
    user_env: Annotated[
        str | None,
        asks("Environment variable with the user.", env_name, example='"LASTLITRE_METER_USER"'),
    ] = None
    password_env: Annotated[
        str | None,
        asks("Environment variable with the password.", env_name,
             example='"LASTLITRE_METER_PASSWORD"'),
    ] = None  # fmt: skip
    password_file: Annotated[
        str | None,
        asks(
            "Or a file with the password that only its owner can read (0600).",
            file_path,
            example='"meter.password"',
        ),
    ] = None
    time: Annotated[
        str | None,
        asks(
            "Path of the message's own time: ISO 8601, or seconds or milliseconds since 1970. "
            "Left out, a reading is of the moment it comes, and retained messages are passed over.",
            PATH,
            example='"time"',
        ),
    ] = None
    outlet_conductivity: Annotated[
        str | None, asks("Path of the outlet's conductivity.", PATH, example='"outlet.ec"')
    ] = None
    outlet_temperature: Annotated[
        str | None, asks("Path of the outlet's temperature.", PATH, example='"outlet.temp"')
    ] = None
    inlet_conductivity: Annotated[
        str | None, asks("Path of the inlet's conductivity.", PATH, example='"inlet.ec"')
    ] = None
    inlet_temperature: Annotated[
        str | None, asks("Path of the inlet's temperature.", PATH, example='"inlet.temp"')
    ] = None
    flow_count: Annotated[
        str | None, asks("Path of a counter that counts for ever.", PATH, example='"count"')
    ] = None
    flow_pulses: Annotated[
        str | None,
        asks("Path of pulses since the message before, where there is no counter.", PATH,
             example='"pulses"'),
    ] = None  # fmt: skip

    @property
    def port_used(self) -> int:
        """The port stated, or the usual one."""
        if self.broker_port is not None:
            return self.broker_port
        return 8883 if self.tls else 1883

    def paths(self) -> dict[str, str]:
        """The channels that are stated."""
        stated = {
            "outlet_conductivity": self.outlet_conductivity,
            "outlet_temperature": self.outlet_temperature,
            "inlet_conductivity": self.inlet_conductivity,
            "inlet_temperature": self.inlet_temperature,
            COUNT: self.flow_count,
            PULSES: self.flow_pulses,
        }
        return {word: path for word, path in stated.items() if path is not None}

    def own_faults(self) -> tuple[OwnFault, ...]:
        """No channel; two counters; two passwords; a certificate for an open line."""
        faults = list(super().own_faults())
        if not self.paths():
            mend = 'Add outlet_conductivity = "outlet.ec" or another channel.'
            faults.append(
                OwnFault(key="outlet_conductivity", problem="no channel is stated", mend=mend)
            )
        if self.flow_count is not None and self.flow_pulses is not None:
            mend = "Keep flow_count: it loses nothing when a message is lost."
            faults.append(OwnFault(key=PULSES, problem="flow_count is stated too", mend=mend))
        if self.password_env is not None and self.password_file is not None:
            faults.append(
                OwnFault(key="password_file", problem="password_env is stated too",
                         mend="Keep one.")
            )  # fmt: skip
        if self.ca_file is not None and not self.tls:
            faults.append(
                OwnFault(key="ca_file", problem="the line is not encrypted", mend="Add tls = true.")
            )
        return tuple(faults)


def join(asked: Asked) -> Joined:
    """One topic as one meter. Raises ConfigError where a secret cannot be had."""
    from firmware_bridge.forward.broker import MqttOptions
    from firmware_bridge.links.mqtt import MqttLine

    options: Mqtt = asked.options
    link = MqttLine(
        settled(options, MqttOptions),
        options.topic,
        f"lastlitre-{asked.line_id}-{asked.meter_id}",
        keep_session=options.time is not None,
    )
    counter = counter_of(asked.pulses_per_l, options.pulse_value_l, options.wrap())
    driver = ValueDriver(
        asked.line_id,
        asked.meter_id,
        LetterDecoder(options.paths(), options.units(), options.time),
        state=asked.state,
        counter=counter,
        own_time=options.time is not None,
    )
    return Joined(link=link, driver=driver)


METER = Meter(name="mqtt", join=join)
OPTIONS = Mqtt
