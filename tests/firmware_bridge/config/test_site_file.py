"""A site file compiled: the core's set-up and the wiring, in base units."""

from __future__ import annotations

import msgspec
import pytest

from analytics.samples import CartridgeFitted, DropTest, Point
from analytics.setup import CapacityKind
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.meter_options.node_serial import NodeSerial
from firmware_bridge.config.sink_options.line_protocol import LineProtocol
from firmware_bridge.config.sink_options.mqtt import Mqtt
from firmware_bridge.config.wiring import Start
from tests.firmware_bridge.config.site_files import GOOD, compiled, edited, site_of

MMOL_PER_DH = 10 / 56.077

SHORTEST = """
[site]
id = "a"
name = "A"
[[line]]
id = "bar"
medium = "sodium"
capacity = "1000 dH*L"
"""


def test_line_is_in_base_units() -> None:
    """mmol, litres, days, shares of one, pulses a litre."""
    (line,) = site_of(GOOD).setup.lines

    assert line.capacity_mmol == pytest.approx(3600 * MMOL_PER_DH, rel=1e-12)
    assert line.capacity_kind is CapacityKind.CARBONATE
    assert line.time_limit_days == pytest.approx(365.25)
    assert (line.carbon_l, line.bypass, line.pulses_per_l) == pytest.approx((10_000, 0.3, 1380))
    assert line.rated_flow_l_min == pytest.approx(2.0)
    assert (line.outlet_probe, line.inlet_probe, line.flow_meter) == (True, True, True)
    assert line.machines == ("two-group espresso machine",)
    assert line.limits.outlet_high_mmol_l == pytest.approx(8 * MMOL_PER_DH)
    assert (line.limits.litres_low_l, line.limits.days_low) == pytest.approx((200.0, 14.0))
    assert line.limits.gap_s == pytest.approx(600.0)


def test_site_is_what_the_file_says() -> None:
    """Names, the week's hours (past midnight over 1440, closed 0-0), the clock."""
    setup = site_of(GOOD).setup

    assert (setup.site_id, setup.name, setup.service) == (
        "harbour-steps",
        "Harbour Steps",
        "Northgate Water Care",
    )
    assert setup.opening[0] == (420, 1110)
    assert setup.opening[4] == (1080, 1560)
    assert setup.opening[6] == (0, 0)
    assert setup.opening[1] == (0, 1440)
    assert setup.local_time.offset_ms(1_767_225_600_000) == 3_600_000


def test_wiring_holds_meters_sinks_page_and_store() -> None:
    """Paths start from the site file's folder, cell constants are numbers."""
    wiring = site_of(GOOD).wiring

    (meter,) = wiring.meters
    assert (meter.meter_id, meter.driver, meter.line_id) == ("node", "node-serial", "bar")
    assert meter.options == NodeSerial(
        port="/dev/ttyUSB0", baud=57_600, outlet_cell_constant_per_cm=0.98
    )
    broker, store = wiring.sinks
    assert broker.options == Mqtt(host="broker.lan", tls=True, password_env="BAR_PASSWORD")
    assert store.options == LineProtocol(url="http://127.0.0.1:8428", token_env="BAR_TOKEN")
    assert (broker.sink_id, store.sink_id) == ("mqtt", "line-protocol")
    assert (wiring.page.host, wiring.page.port) == ("127.0.0.1", 0)
    assert wiring.store_path == "/srv/site/records/bar.sqlite"


def test_dated_entries_are_events_in_order_of_time() -> None:
    """A time without offset is by the site's clock (Berlin, winter: one hour before UTC)."""
    fitted, test = site_of(GOOD).setup.dated

    assert isinstance(fitted, CartridgeFitted)
    assert isinstance(test, DropTest)
    assert fitted.at_ms == 1_770_019_200_000  # 08:00 UTC
    assert test.at_ms == 1_770_021_000_000  # 08:30 UTC
    assert (fitted.litres_before, fitted.line_id) == (0.0, "bar")
    assert test.point is Point.RAW
    assert test.hardness_mmol_l == pytest.approx(18 * MMOL_PER_DH)
    assert test.alkalinity_meq_l == pytest.approx(32 * MMOL_PER_DH)


def test_same_entry_is_the_same_event() -> None:
    """Reading a file again names the same events; another value is another event."""
    first, again = site_of(GOOD).setup.dated, site_of(GOOD.replace("57600", "9600")).setup.dated
    other = site_of(edited('"18 dH"', '"17 dH"')).setup.dated

    assert [e.event_id for e in first] == [e.event_id for e in again]
    assert first[0].event_id == other[0].event_id
    assert first[1].event_id != other[1].event_id


@pytest.mark.parametrize("kind", DATED)
def test_entry_has_the_fields_of_its_event(kind: str) -> None:
    """Nothing an event can say is out of a person's reach, but what the logbook puts in."""
    entry, event = DATED[kind]
    put_in = {"known_at_ms", "event_id", "corrects"}

    wanted = {f.name for f in msgspec.structs.fields(event)} - put_in
    assert {f.name for f in msgspec.structs.fields(entry)} == wanted


def test_shortest_file_assumes_no_fresh_cartridge() -> None:
    """Nothing is said of the start: it is unknown, not new."""
    site = site_of(SHORTEST)

    assert site.wiring.starts == (Start(line_id="bar", litres_before=None),)
    assert site.setup.time_zone == "UTC"
    assert site.wiring.store_path == "/srv/site/a.sqlite"
    assert (site.wiring.meters, site.wiring.sinks, site.setup.dated) == ((), (), ())


@pytest.mark.parametrize(("said", "litres"), [("new", 0.0), ("2400 L", 2400.0), ("unknown", None)])
def test_start_is_new_unknown_or_litres(said: str, litres: float | None) -> None:
    """A logger is often fitted to a part-used cartridge."""
    site = site_of(SHORTEST + f'start = "{said}"\n')

    assert site.wiring.starts == (Start(line_id="bar", litres_before=litres),)


def test_dated_cartridge_leaves_no_undated_start() -> None:
    """What a dated entry says is not said twice."""
    assert site_of(GOOD).wiring.starts == ()


@pytest.mark.parametrize(
    ("medium", "kind"),
    [
        ("sodium", CapacityKind.TOTAL),
        ("hydrogen", CapacityKind.CARBONATE),
        ("mixed", CapacityKind.CARBONATE),
        ("magnesium", CapacityKind.CALCIUM),
    ],
)
def test_capacity_counts_what_the_medium_works_on(medium: str, kind: CapacityKind) -> None:
    """Left out, the kind of capacity is the medium's."""
    (line,) = site_of(SHORTEST.replace("sodium", medium)).setup.lines

    assert line.capacity_kind is kind


def test_stated_kind_of_capacity_wins() -> None:
    """A maker may rate in another hardness."""
    (line,) = site_of(SHORTEST + 'capacity_kind = "calcium"\n').setup.lines

    assert line.capacity_kind is CapacityKind.CALCIUM


def test_litres_at_a_hardness_and_bypass_are_a_capacity() -> None:
    """1200 L at 10 dH with 30 % round the bed: 8400 dH*L pass the bed."""
    text = SHORTEST.replace(
        'capacity = "1000 dH*L"',
        'rated_life = "1200 L"\nrated_hardness = "10 dH"\nrated_bypass = "30 %"',
    )
    (line,) = site_of(text).setup.lines

    assert line.capacity_mmol == pytest.approx(8400 * MMOL_PER_DH)
    assert line.rated_l is None


def test_litres_and_months_alone_are_enough() -> None:
    """Without a hardness the life stays in litres."""
    text = SHORTEST.replace('"sodium"', '"carbon"').replace(
        'capacity = "1000 dH*L"', 'rated_life = "5000 L"\ntime_limit = "6 month"'
    )
    (line,) = site_of(text).setup.lines

    assert (line.capacity_mmol, line.rated_l) == (None, 5000.0)
    assert line.time_limit_days == pytest.approx(182.625)


def test_cartridge_without_any_end_is_refused() -> None:
    """Something must say when it is due."""
    found = compiled(SHORTEST.replace('capacity = "1000 dH*L"', ""))

    assert isinstance(found, list)
    assert "nothing says when this cartridge ends" in str(found[0])


@pytest.mark.parametrize(
    ("said", "count", "flow"),
    [
        ('arrangement = "single"', 1, 2.0),
        ('arrangement = "parallel"', 2, 4.0),
        ('arrangement = "series"', 2, 2.0),
        ('arrangement = "parallel"\ncartridges = 3', 3, 6.0),
    ],
)
def test_twins_hold_together_what_each_holds(said: str, count: int, flow: float) -> None:
    """Capacity and carbon add up either way, flow only side by side."""
    text = SHORTEST + f'carbon = "5000 L"\nrated_flow = "2 L/min"\n{said}\n'
    (line,) = site_of(text).setup.lines

    assert line.capacity_mmol == pytest.approx(1000 * MMOL_PER_DH * count)
    assert (line.carbon_l, line.rated_flow_l_min) == pytest.approx((5000.0 * count, flow))


def test_site_may_have_several_lines() -> None:
    """Each meter and dated entry then says which line it is of."""
    second = '[[line]]\nid = "kettle"\nmedium = "magnesium"\ncapacity = "900 dH*L"\n'
    meter = '[[meter]]\ndriver = "virtual-cafe"\nline = "kettle"\n'
    site = site_of(SHORTEST + second + meter)

    assert [line.line_id for line in site.setup.lines] == ["bar", "kettle"]
    assert site.wiring.meters[0].line_id == "kettle"


def test_encrypted_broker_has_its_own_usual_port() -> None:
    """1883 in the open, 8883 encrypted, or what is stated."""
    assert Mqtt(host="a").port_used == 1883
    assert Mqtt(host="a", tls=True).port_used == 8883
    assert Mqtt(host="a", tls=True, port=1).port_used == 1
