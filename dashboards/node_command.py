"""`lastlitre node`: what a node on a port is and how it is set up."""

from __future__ import annotations

import asyncio

import click

from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.node_setup import NodeFacts, set_up


@click.command("node")
@click.argument("port")
@click.argument("settings", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--baud", default=115_200, show_default=True, help="Bits a second of the line.")
def node_command(port: str, settings: tuple[str, ...], baud: int) -> None:
    """Ask the node on PORT who it is and how its self test ends; change its settings.

    Stop `lastlitre run` first: a port serves one program at a time.
    """
    wanted = dict(_pair(text) for text in settings)
    click.echo(_told(asyncio.run(set_up(SerialLine(port, baud), wanted))))


def _pair(text: str) -> tuple[str, int]:
    key, sign, value = text.partition("=")
    if not sign or not value.isdigit():
        raise click.BadParameter(f"{text!r} is not KEY=VALUE with a whole number.")
    return key, int(value)


def _told(facts: NodeFacts) -> str:
    hello, test = facts.hello, facts.test
    lines = [
        f"node {hello.node}: {hello.text}, up {hello.uptime_ms // 60_000} min, "
        f"{hello.newest} rows, {hello.newest - hello.confirmed} of them not confirmed",
        f"self test: {test.text if test.failed else 'sound'}",
        *(f"  {key:16} {value}" for key, value in facts.settings.items()),
    ]
    return "\n".join(lines)
