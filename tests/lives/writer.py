"""The three files of one life, byte for byte the same for the same life."""

from __future__ import annotations

import gzip
import json
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

HEADER = (
    "time,outlet_conductivity_uS_cm,outlet_temperature_C,"
    "inlet_conductivity_uS_cm,inlet_temperature_C,flow_pulses"
)
Seen = tuple[np.ndarray, np.ndarray]


class Recording(NamedTuple):
    """Rows as the logger wrote them; NaN is a blank, `inlet` None is no probe there."""

    rows_s: np.ndarray
    outlet: Seen
    inlet: Seen | None
    pulses: np.ndarray


def write_life(
    folder: Path,
    install: datetime,
    recording: Recording,
    site: dict[str, object],
    truth: dict[str, object],
) -> None:
    """Write recording.csv.gz, site.json and truth.json into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    # No time in the gzip head: the same life gives the same bytes.
    packed = gzip.compress(_csv(install, recording).encode(), compresslevel=6, mtime=0)
    (folder / "recording.csv.gz").write_bytes(packed)
    (folder / "site.json").write_text(json.dumps(site, indent=1) + "\n")
    (folder / "truth.json").write_text(json.dumps(truth) + "\n")


def _csv(install: datetime, recording: Recording) -> str:
    columns = [*_texts(recording.outlet), *_texts(recording.inlet or _nothing(recording.rows_s))]
    counts = [str(count) for count in recording.pulses.tolist()]
    rows = zip(_stamps(install, recording.rows_s), *columns, counts, strict=True)
    return "\n".join([HEADER, *map(",".join, rows)]) + "\n"


def _stamps(install: datetime, rows_s: np.ndarray) -> list[str]:
    origin = np.datetime64(install.replace(tzinfo=None), "s")
    times = origin + np.round(rows_s).astype(np.int64).astype("timedelta64[s]")
    return [f"{time}Z" for time in np.datetime_as_string(times).tolist()]


def _texts(seen: Seen) -> tuple[list[str], list[str]]:
    return tuple(
        ["" if value != value else form % value for value in column.tolist()]
        for column, form in zip(seen, ("%.1f", "%.2f"), strict=True)
    )  # type: ignore[return-value]


def _nothing(rows_s: np.ndarray) -> Seen:
    blank = np.full(len(rows_s), np.nan)
    return blank, blank
