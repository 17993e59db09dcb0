"""What every meter must keep, whoever adds it: one file, its options, a name, no crash."""

from __future__ import annotations

import pkgutil

import pytest

import firmware_bridge.meters as package
from firmware_bridge.config import registry
from firmware_bridge.config.reading import fields_of
from firmware_bridge.config.wiring import MeterOptions
from firmware_bridge.meters import meter_named

WORDS = sorted(m.name.replace("_", "-") for m in pkgutil.iter_modules(package.__path__))


@pytest.mark.parametrize("word", WORDS)
def test_a_meter_file_defines_meter_and_options_under_its_own_name(word: str) -> None:
    """The word in a site file is the file's name with hyphens."""
    options = registry.options_of("meter", word)

    assert meter_named(word).name == word
    assert options is not None
    assert issubclass(options, MeterOptions)


@pytest.mark.parametrize("word", WORDS)
def test_every_option_explains_itself(word: str) -> None:
    """The commented sample is the options' manual."""
    options = registry.options_of("meter", word)
    assert options is not None
    assert options.__doc__
    for field in fields_of(options):
        assert field.description, field.key


def test_a_word_that_is_no_meter_is_refused() -> None:
    """No file, no meter."""
    with pytest.raises(LookupError, match="bench-probe"):
        meter_named("bench-probe")
