"""A short recorded life on disk, with truth, for the back-test."""

from __future__ import annotations

import gzip
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

INSTALL = datetime(2024, 5, 13, 7, tzinfo=UTC)
DAYS = 8
TOTAL_L = 320.0


def stamp(hours: float) -> str:
    """An instant so many hours after the installation, as the files write it."""
    return (INSTALL + timedelta(hours=hours)).strftime("%Y-%m-%dT%H:%M:%SZ")


def write_life(folder: Path, name: str, medium: str = "sodium") -> Path:
    """Forty litres a day through a cartridge of 320 L; a source switch on the fourth day."""
    life = folder / name
    life.mkdir(parents=True)
    basis = "total_hardness" if medium == "sodium" else "carbonate_hardness"
    (life / "site.json").write_text(json.dumps(_site(name, medium, basis)))
    (life / "truth.json").write_text(json.dumps(_truth(medium, basis)))
    with gzip.open(life / "recording.csv.gz", "wt", newline="") as out:
        out.write(
            "time,outlet_conductivity_uS_cm,outlet_temperature_C,"
            "inlet_conductivity_uS_cm,inlet_temperature_C,flow_pulses\n"
        )
        out.writelines(_rows())
    return life


def _site(name: str, medium: str, basis: str) -> dict[str, object]:
    return {
        "case": name,
        "medium": medium,
        "capacity_basis": basis,
        "rated_capacity_dH_litres": 4000,
        "bypass_setpoint": 0.0,
        "k_factor_pulses_per_litre": 1000.0,
        "install_date": stamp(0),
        "utc_offset_hours": 1,
        "layout": "inlet+outlet",
        "utility_report": {
            "total_hardness_dH": 12.0,
            "acid_capacity_mmol_L": 3.5,
            "calcium_mg_L": 68,
            "magnesium_mg_L": 10.8,
        },
        "drop_tests": [
            {
                "time": stamp(0.5),
                "point": "raw",
                "total_hardness_dH": 13,
                "carbonate_hardness_dH": 10,
            }
        ],
    }


def _truth(medium: str, basis: str) -> dict[str, object]:
    hours = np.arange(24 * DAYS + 1)
    litres = np.minimum(hours * 40.0 / 24.0, 40.0 * DAYS)
    return {
        "medium": medium,
        "layout": "inlet+outlet",
        "target": basis,
        "true_total_litres": TOTAL_L,
        "breakthrough": {"time": stamp(24 * DAYS), "within_record": True},
        "days": float(DAYS),
        "events": [
            {"kind": "source_change", "start": stamp(76), "end": stamp(77)},
            {"kind": "breakthrough", "start": stamp(24 * DAYS), "end": None},
        ],
        "hourly": {
            "start": stamp(0),
            "step_s": 3600,
            "litres": litres.tolist(),
            "outlet_hardness_dH": (0.1 + 0.0 * litres).tolist(),
            "raw_hardness_dH": (12.5 + 0.0 * litres).tolist(),
        },
    }


def _rows() -> list[str]:
    rng = np.random.default_rng(5)
    rows = []
    for hour in range(24 * DAYS):
        up = 1.25 if hour >= 77 else 1.0
        for minute in range(0, 60, 5):
            when = stamp(hour + minute / 60)
            flows = 2 <= hour % 24 < 12
            pulses = 333 if flows else 0
            readings = 550.0 * up * (1.0 + 0.002 * rng.standard_normal(2))
            rows.append(f"{when},{readings[0]:.1f},15.00,{readings[1]:.1f},15.00,{pulses}\n")
    return rows
