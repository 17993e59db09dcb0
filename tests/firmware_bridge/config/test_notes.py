"""An installer's notes become a site file that says the same numbers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analytics.errors import ConfigError
from analytics.samples import AnyEvent, CartridgeFitted, CrossZero, DropTest, Point, UtilityReport
from firmware_bridge.config import Site, from_notes
from tests.firmware_bridge.config.site_files import compiled

RTOL = 1e-9

NOTES: dict[str, Any] = {
    "case": "harbour-steps",
    "medium": "mixed",
    "capacity_basis": "carbonate_hardness",
    "rated_capacity_dH_litres": 12345.678,
    "bypass_setpoint": 0.07,
    "k_factor_pulses_per_litre": 781.23,
    "install_date": "2025-11-18T07:00:00Z",
    "utc_offset_hours": 1,
    "layout": "inlet+outlet",
    "utility_report": {
        "total_hardness_dH": 9.4,
        "acid_capacity_mmol_L": 4.36,
        "calcium_mg_L": 47,
        "magnesium_mg_L": 12.2,
    },
    "drop_tests": [
        {
            "time": "2025-11-18T07:30:00Z",
            "point": "raw",
            "total_hardness_dH": 11,
            "carbonate_hardness_dH": 14,
        },
        {"time": "2025-11-18T09:00:00Z", "point": "treated", "carbonate_hardness_dH": 8},
    ],
    "raw_water_reading": {
        "time": "2025-11-18T07:15:00Z",
        "outlet_conductivity_uS_cm": 557.8,
        "outlet_temperature_C": 15.05,
        "inlet_conductivity_uS_cm": 551.3,
        "inlet_temperature_C": 15.1,
    },
}


def taken(folder: Path, notes: object) -> Site:
    found = compiled(from_notes(noted(folder, notes)))
    assert isinstance(found, Site), "\n".join(map(str, found))
    return found


def noted(folder: Path, notes: object) -> Path:
    path = folder / "notes.json"
    path.write_text(json.dumps(notes))
    return path


def of(site: Site, kind: type[AnyEvent]) -> list[Any]:
    return [event for event in site.setup.dated if isinstance(event, kind)]


def test_numbers_survive_the_round_trip(tmp_path: Path) -> None:
    """Notes to TOML to set-up: to 1e-9 of what the notes say."""
    (line,) = taken(tmp_path, NOTES).setup.lines

    assert line.medium == "mixed"
    assert line.capacity_mmol == pytest.approx(12345.678 * 10 / 56.077, rel=RTOL)
    assert line.capacity_kind == "carbonate"
    assert line.bypass == pytest.approx(0.07, rel=RTOL)
    assert line.pulses_per_l == pytest.approx(781.23, rel=RTOL)
    assert (line.outlet_probe, line.inlet_probe) == (True, True)


def test_report_is_hardness_alkalinity_and_ions(tmp_path: Path) -> None:
    """Acid capacity in mmol/L is alkalinity in meq/L (4.36 mmol/L: 12.2 dH)."""
    (report,) = of(taken(tmp_path, NOTES), UtilityReport)

    assert report.hardness_mmol_l == pytest.approx(9.4 * 10 / 56.077, rel=RTOL)
    assert report.alkalinity_meq_l == pytest.approx(4.36, rel=RTOL)
    assert report.calcium_mmol_l == pytest.approx(47 / 40.078, rel=RTOL)
    assert report.magnesium_mmol_l == pytest.approx(12.2 / 24.305, rel=RTOL)
    assert report.at_ms == 1_763_449_200_000


def test_treated_in_notes_is_blended_water(tmp_path: Path) -> None:
    """What the machine gets, after the bypass; "carbonate hardness" of a test is alkalinity."""
    raw, blended = of(taken(tmp_path, NOTES), DropTest)

    assert (raw.point, blended.point) == (Point.RAW, Point.BLENDED)
    assert raw.alkalinity_meq_l == pytest.approx(14 * 20 / 56.077, rel=RTOL)
    assert raw.hardness_mmol_l == pytest.approx(11 * 10 / 56.077, rel=RTOL)
    assert blended.hardness_mmol_l is None
    assert blended.alkalinity_step_meq_l == pytest.approx(20 / 56.077, rel=RTOL)
    assert blended.at_ms == 1_763_456_400_000


def test_reading_in_raw_water_is_the_cross_zero(tmp_path: Path) -> None:
    """As read, not referred to 25 degrees."""
    (zero,) = of(taken(tmp_path, NOTES), CrossZero)

    assert (zero.outlet_us_cm, zero.outlet_temp_c) == pytest.approx((557.8, 15.05), rel=RTOL)
    assert (zero.inlet_us_cm, zero.inlet_temp_c) == pytest.approx((551.3, 15.1), rel=RTOL)


def test_cartridge_is_new_because_the_notes_are_of_an_installation(tmp_path: Path) -> None:
    """Nothing had passed it on the day it was fitted."""
    site = taken(tmp_path, NOTES)
    (fitted,) = of(site, CartridgeFitted)

    assert (fitted.at_ms, fitted.litres_before) == (1_763_449_200_000, 0.0)
    assert site.wiring.starts == ()


@pytest.mark.parametrize(
    ("offset", "zone", "seconds"),
    [
        (1, "Etc/GMT-1", 3600),
        (0, "Etc/GMT", 0),
        (-5, "Etc/GMT+5", -18_000),
        (5.5, "UTC+05:30", 19_800),
        (-3.5, "UTC-03:30", -12_600),
    ],
)
def test_offset_is_a_zone_without_summer_time(
    tmp_path: Path, offset: float, zone: str, seconds: int
) -> None:
    """The notes name an offset, not a place."""
    setup = taken(tmp_path, {**NOTES, "utc_offset_hours": offset}).setup

    assert setup.time_zone == zone
    assert setup.local_time.offset_s == (seconds,)


def test_shortest_notes_are_enough(tmp_path: Path) -> None:
    """Without report, tests, reading and name; further remarks are passed over."""
    optional = ("utility_report", "drop_tests", "raw_water_reading", "case")
    notes = {key: value for key, value in NOTES.items() if key not in optional}
    site = taken(tmp_path, {**notes, "layout": "outlet", "remark": "behind the bar"})

    assert site.setup.lines[0].inlet_probe is False
    assert len(site.setup.dated) == 1


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("medium",), None, ("medium", "missing")),
        (("medium",), "sand", ('medium = "sand"', "not one of the words known", "magnesium")),
        (("capacity_basis",), "hardness", ("capacity_basis", "carbonate_hardness")),
        (("rated_capacity_dH_litres",), "3600", ('rated_capacity_dH_litres = "3600"', "number")),
        (("rated_capacity_dH_litres",), -1, ("rated_capacity_dH_litres = -1", "out of range")),
        (("rated_capacity_dH_litres",), None, ("rated_capacity_dH_litres", "missing")),
        (("bypass_setpoint",), 30, ("bypass_setpoint = 30", "from 0 to 0.95")),
        (("k_factor_pulses_per_litre",), 0, ("k_factor_pulses_per_litre = 0", "out of range")),
        (
            ("k_factor_pulses_per_litre",),
            True,
            ("k_factor_pulses_per_litre = true", "not a number"),
        ),
        (("install_date",), "18.11.2025", ("install_date", "2024-08-16T08:30:00Z")),
        (("install_date",), "2025-11-18T07:00:00", ("install_date", "not an instant")),
        (("install_date",), 5, ("install_date = 5", "not a date and time")),
        (("utc_offset_hours",), 25, ("utc_offset_hours = 25", "from -12 to 14")),
        (("layout",), "both", ("layout", "outlet, inlet+outlet")),
        (("utility_report",), [], ("[utility_report] []", "no notes with keys")),
        (("utility_report", "calcium_mg_L"), "47", ("[utility_report] calcium_mg_L", "number")),
        (("drop_tests",), {"a": 1}, ("drop_tests = {", "not a list")),
        (("drop_tests", 1, "point"), "tap", ("[[drop_tests]] 2 point", "raw, treated")),
        (("drop_tests", 1, "carbonate_hardness_dH"), None, ("[[drop_tests]] 2", "no value")),
        (("drop_tests", 0, "time"), None, ("[[drop_tests]] 1 time", "missing")),
        (("drop_tests", 0), 3, ("[[drop_tests]] 1 3", "no notes with keys")),
        (("raw_water_reading", "outlet_temperature_C"), 400, ("outlet_temperature_C = 400", "110")),
        (("raw_water_reading", "time"), None, ("[raw_water_reading] time", "missing")),
    ],
)
def test_fault_in_notes_names_the_key(
    tmp_path: Path, path: tuple[Any, ...], value: object, said: tuple[str, ...]
) -> None:
    """Missing keys (None here), wrong types, unknown words: file, place, key, what is allowed."""
    notes: Any = json.loads(json.dumps(NOTES))
    inner = notes
    for step in path[:-1]:
        inner = inner[step]
    if value is None:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    file = noted(tmp_path, notes)

    with pytest.raises(ConfigError) as caught:
        from_notes(file)
    (fault,) = caught.value.faults
    assert fault.startswith(f"{file}: ")
    assert all(part in fault for part in said), fault


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"[]", "no notes in it"),
        (b"\xff\xff", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b"9" * 6000, "not JSON"),
    ],
)
def test_file_that_is_no_notes_is_an_error(tmp_path: Path, data: bytes, said: str) -> None:
    """One sentence, no traceback."""
    path = tmp_path / "notes.json"
    path.write_bytes(data)

    with pytest.raises(ConfigError, match=said):
        from_notes(path)


def test_missing_notes_are_an_error(tmp_path: Path) -> None:
    """And so is a folder."""
    with pytest.raises(ConfigError, match="no such file"):
        from_notes(tmp_path / "none.json")
    with pytest.raises(ConfigError, match="this is a folder"):
        from_notes(tmp_path)
