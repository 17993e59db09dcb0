"""What conductivity sees of each family over fourteen invented waters.

Ranges are of a study with a speciation engine over other invented waters (fresh bed and rise at
breakthrough in % of raw EC25, no bypass); medians are held to a third of the range.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analytics.media import media
from analytics.medium import ONE_PROBE_SD_PCT, PAIR_SD_PCT
from analytics.samples import Floats
from tests.check_values.invented_waters import COUNT, alkaline, fourteen

MEDIA = media()
FRESH = {
    "hydrogen": (-74.0, -47.0, -25.0),
    "mixed": (-61.0, -38.0, -25.0),
    "magnesium": (-7.5, -5.0, -3.0),
    "sodium": (-3.0, -0.4, 9.0),
}
AT_END = {
    "hydrogen": (4.4, 10.0, 16.0),
    "mixed": (5.9, 8.7, 14.0),
    "magnesium": (0.8, 1.1, 1.9),
    "sodium": (-2.4, 0.6, 2.0),
}
WHOLE = 0.5
"""The table of fresh beds is printed in whole per cent."""
AT_TENTH = {"hydrogen": 1.2, "mixed": 3.3, "magnesium": 0.7, "sodium": 0.5}


@cache
def _figures(name: str) -> Floats:
    """(water, figure): fresh, rise at a tenth left, rise at the end."""
    found = [MEDIA[name].contrast(fourteen().at(place)) for place in range(COUNT)]
    return np.array([(c.fresh_pct, c.rise_at_tenth_pct, c.rise_at_end_pct) for c in found])


@pytest.mark.parametrize("name", FRESH)
def test_fresh_bed_shifts_conductivity_as_known(name: str) -> None:
    """Fresh less raw lies in the known range for every water, its median near the known one."""
    low, middle, high = FRESH[name]
    fresh = _figures(name)[:, 0]

    assert low - WHOLE <= fresh.min()
    assert fresh.max() <= high + WHOLE
    assert np.median(fresh) == pytest.approx(middle, abs=(high - low) / 3)


@pytest.mark.parametrize("name", AT_END)
def test_breakthrough_raises_conductivity_as_known(name: str) -> None:
    """The rise at the end lies in the known range for every water with no more alkalinity than
    hardness, its median near the known one."""
    low, middle, high = AT_END[name]
    rise = _figures(name)[~alkaline(), 2]

    assert low <= rise.min()
    assert rise.max() <= high
    assert np.median(rise) == pytest.approx(middle, abs=(high - low) / 3)


@pytest.mark.parametrize("name", AT_TENTH)
def test_with_a_tenth_left_little_is_seen_yet(name: str) -> None:
    """The rise with a tenth of life left is within 1 % of raw EC25 of the known median."""
    rise = _figures(name)[~alkaline(), 1]

    assert np.median(rise) == pytest.approx(AT_TENTH[name], abs=1.0)


def test_softening_has_no_fixed_sign() -> None:
    """Sulphate-rich water conducts more when softened, chalk water less."""
    fresh = _figures("sodium")[:, 0]

    assert fresh[9] > 5.0
    assert fresh[8] < -1.0


@pytest.mark.parametrize(
    ("name", "pair", "one"),
    [("hydrogen", True, True), ("mixed", True, True), ("sodium", False, False)],
)
def test_who_sees_the_end(name: str, pair: bool, one: bool) -> None:
    """A pair stands out by 3 sigma where one probe does by 2, and never for sodium."""
    chalk = MEDIA[name].contrast(fourteen().at(8))

    assert (chalk.sigmas(PAIR_SD_PCT) >= 3.0) is pair
    assert (chalk.sigmas(ONE_PROBE_SD_PCT) >= 2.0) is one


@pytest.mark.parametrize("name", ["sodium", "magnesium"])
def test_what_cannot_be_seen_is_said(name: str) -> None:
    """The caution quotes the size of the change, and whom it escapes."""
    found = {c.code: c for c in MEDIA[name].cautions(fourteen().at(6))}

    assert "faint" in found
    assert found["faint"].variant.startswith(("one-", "pair-"))
    assert 0.0 <= found["faint"].values["change_pct"] < 10.0


@pytest.mark.parametrize("name", ["hydrogen", "mixed"])
def test_what_can_be_seen_is_not_called_faint(name: str) -> None:
    """No such caution where one probe sees the end."""
    assert "faint" not in {c.code for c in MEDIA[name].cautions(fourteen().at(8))}
