"""What a reader gets: chosen before, else as the browser is set, else as the site file says."""

from __future__ import annotations

import pytest

from analytics.errors import ConfigError
from dashboards.taste import Taste, taste_of, usual_taste

USUAL = Taste(units="fH", lang="en")


def test_a_kept_choice_wins_over_what_the_browser_asks_for() -> None:
    """The cookie says what the person has chosen."""
    taste = taste_of({"lang": "en", "units": "mmol/L"}, USUAL, "de-AT,de;q=0.9")

    assert (taste.lang, taste.units) == ("en", "mmol/L")


@pytest.mark.parametrize(
    "asked", ["", "xx", "tlh, xx;q=0.5", "en;q=0", "en;q=a, *", ",;q=", "q=1;;;", "en-GB", "EN"]
)
def test_a_language_nobody_has_is_the_usual_one(asked: str) -> None:
    """Nothing known asked for, or nonsense: the site file's language, or English where asked."""
    assert taste_of({}, USUAL, asked) == USUAL


def test_a_language_the_site_file_names_without_texts_is_a_fault() -> None:
    """The sentence names the key and what there is."""
    with pytest.raises(ConfigError, match=r"site\.language.*'xx'.*en"):
        usual_taste("xx")
