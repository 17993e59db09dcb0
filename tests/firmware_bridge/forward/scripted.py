"""A sink that fails, and speaks, by script."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from analytics.errors import PartialWrite
from firmware_bridge.forward.sink import Heard, Parcel, Sink, SiteCard, Span
from firmware_bridge.store.out_row import OutRow


class NoOptions(msgspec.Struct, frozen=True):
    """Nothing to set."""


class ScriptedSink:
    """Fails as the script says, send by send; then takes everything."""

    def __init__(self, *script: Exception | None) -> None:
        self.script = list(script)
        self.taken: list[list[int]] = []
        self.tried: list[list[int]] = []
        self.shown: list[list[int]] = []
        self.closed = 0
        self.done = 0
        self.parcels: list[tuple[int, int, bool]] = []
        self.again: tuple[Span, ...] = ()
        self.durable: Callable[[int], int | None] = lambda done: done or None

    def send(self, parcel: Parcel) -> None:
        """Take the rows, or fail."""
        numbers = [row.seq for row in parcel.rows]
        self.tried.append(numbers)
        fault = self.script.pop(0) if self.script else None
        if fault is not None and not isinstance(fault, PartialWrite):
            raise fault
        self.taken.append(numbers)
        self.parcels.append((parcel.after, parcel.up_to, parcel.again))
        self.again = () if parcel.again else self.again
        self.done = max(self.done, parcel.up_to)
        if fault is not None:
            raise fault

    def heard(self) -> Heard:
        """What is safe, by the script's rule, and what is wanted again."""
        return Heard(
            durable_up_to=self.durable(self.done), again=self.again[0] if self.again else None
        )

    def show_now(self, rows: Sequence[OutRow]) -> None:
        """Note what is shown."""
        self.shown.append([row.seq for row in rows])

    def close(self) -> None:
        """Count the farewells."""
        self.closed += 1


def sink_of(
    scripted: ScriptedSink, rows_a_send: int = 10, shows_now: bool = False, window_rows: int = 0
) -> Sink:
    """The registry entry of a scripted sink."""

    def open_it(options: NoOptions, card: SiteCard, now_ms: Callable[[], int]) -> ScriptedSink:
        return scripted

    return Sink(
        name="scripted", options=NoOptions, open=open_it, rows_a_send=rows_a_send,
        shows_now=shows_now, window_rows=window_rows, keeps_line=True,
    )  # fmt: skip
