"""The command `survey`: from drop tests to a treatment."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click
import msgspec

from analytics.errors import LastLitreError
from analytics.survey.given import Given
from analytics.survey.plan import SEED, Survey, survey
from analytics.survey.site import Aim, Boilers, Material, Site
from analytics.survey.window import DEFAULT, STEAM_ONLY, WINDOWS, Window
from dashboards.phrases.language import FALLBACK, codes
from dashboards.phrases.reader import Reader
from dashboards.survey_figures import CHOICES
from dashboards.survey_input import FIELDS, given_from, referred, report_from
from dashboards.survey_json import survey_json
from dashboards.survey_plane import PHONE, WIDE, survey_plane
from dashboards.survey_profile import profile_text, window_named
from dashboards.survey_text import headline, survey_text
from dashboards.taste import Taste
from firmware_bridge.config import kinds
from firmware_bridge.config.kinds import Kind
from firmware_bridge.units import UnitError
from firmware_bridge.units import parse as parse_unit

TESTS: Final = {
    "hardness": 'Total hardness: "16 drops", "14 dH", "250 mg/L as CaCO3" or a range "12-15 dH".',
    "alkalinity": 'Alkalinity, what a "KH" test counts: "13 drops", "12 dH", "195 mg/L as HCO3".',
    "ec": 'Conductivity at 25 °C: "560 uS/cm".',
    "calcium": 'Calcium: "80 mg/L" of calcium, or "200 mg/L as CaCO3".',
    "magnesium": 'Magnesium: "12 mg/L".',
    "sodium": 'Sodium: "20 mg/L".',
    "chloride": 'Chloride: "18 mg/L".',
    "sulphate": 'Sulphate: "40 mg/L".',
    "nitrate": 'Nitrate: "10 mg/L".',
    "ph": 'pH at the tap: "7.4".',
}
AS_FILE: Final = click.Path(path_type=Path)


def _tests(command: Any) -> Any:
    for name, text in reversed(TESTS.items()):
        command = click.option(f"--{name}", metavar="TEXT", help=text)(command)
    return command


def _print_profile(ctx: click.Context, _: click.Parameter, name: str | None) -> None:
    if name is not None and not ctx.resilient_parsing:
        click.echo(profile_text(window_named(name)), nl=False)
        ctx.exit()


@click.command(name="survey")
@_tests
@click.option("--drop", default="1 dH", show_default=True, help="What one drop stands for.")
@click.option("--ec-temp", metavar="TEXT", help='Where the meter does not refer to 25 °C: "12 °C".')
@click.option("--report", type=AS_FILE, help="The utility's report: a TOML file with these names.")
@click.option("--machine", type=click.Choice([b.value for b in Boilers]), default="both",
              show_default=True, help="Boilers behind the filter.")  # fmt: skip
@click.option("--material", type=click.Choice([m.value for m in Material]), default="unknown",
              show_default=True, help="Metal of the boilers.")  # fmt: skip
@click.option("--aim", type=click.Choice([a.value for a in Aim]),
              help="What matters most; taste, or machine behind steam only.")  # fmt: skip
@click.option("--low-sodium", is_flag=True, help="The water must stay low in sodium.")
@click.option("--litres-a-day", metavar="LITRES", help="Litres drawn on an open day.")
@click.option("--days-a-week", type=float, default=7.0, show_default=True, help="Open days.")
@click.option("--months", type=float, default=6.0, show_default=True,
              help="How long a cartridge should last.")  # fmt: skip
@click.option("--capacity", metavar="TEXT", help='Capacity of a cartridge at hand: "3600 dH*L".')
@click.option("--concentration", type=float, default=3.0, show_default=True,
              help="How many times salts thicken in the steam boiler.")  # fmt: skip
@click.option("--window", "window_name", metavar="PROFILE",
              help=f"Brew-water profile: {', '.join(WINDOWS)}, or a TOML file.")  # fmt: skip
@click.option("--print-profile", metavar="PROFILE", is_eager=True, expose_value=False,
              callback=_print_profile, help="Print a profile to edit, and stop.")  # fmt: skip
@click.option("--units", type=click.Choice(list(CHOICES)), default="dH", show_default=True,
              help="Units of the answer.")  # fmt: skip
@click.option("--lang", type=click.Choice(codes()), default=FALLBACK, show_default=True,
              help="Language of the answer.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
@click.option("--svg", type=AS_FILE, help="Draw the plane of hardness and alkalinity here.")
@click.option("--svg-size", type=click.Choice(["wide", "phone"]), default="wide", show_default=True,
              help="Size of the drawing.")  # fmt: skip
@click.option("--seed", type=int, default=SEED, show_default=True, help="Seed of what is drawn.")
def survey_command(**options: Any) -> None:
    """Which treatment fits this raw water, with which bypass and size, and why the others do not.

    Give what was tested; what was not widens the answer.
    """
    taste = Taste(units=CHOICES[options["units"]], lang=options["lang"])
    reader = taste.reader()
    site = _site(options)
    found = survey(
        _given(options),
        site,
        _window(options["window_name"], site),
        report=report_from(options["report"]) if options["report"] else None,
        seed=options["seed"],
    )
    if options["svg"] is not None:
        _draw(found, options, reader)
    if options["as_json"]:
        click.echo(survey_json(found, headline(found, reader)))
    else:
        click.echo(survey_text(found, reader), nl=False)


def _given(options: dict[str, Any]) -> Given:
    texts = {name: options[name] for name in FIELDS if options[name] is not None}
    given = given_from(texts, options["drop"])
    if options["ec_temp"] is None:
        return given
    if given.ec25_us_cm is None:
        raise LastLitreError("--ec-temp is given without --ec.", "Give the conductivity as well.")
    return msgspec.structs.replace(given, ec25_us_cm=referred(given.ec25_us_cm, options["ec_temp"]))


def _site(options: dict[str, Any]) -> Site:
    boilers = Boilers(options["machine"])
    usual = Aim.MACHINE if boilers is Boilers.STEAM else Aim.TASTE
    return Site(
        boilers=boilers,
        material=Material(options["material"]),
        aim=usual if options["aim"] is None else Aim(options["aim"]),
        low_sodium=options["low_sodium"],
        litres_a_day=_litres(options["litres_a_day"]),
        days_a_week=options["days_a_week"],
        months=options["months"],
        capacity_mmol=_quantity("--capacity", options["capacity"], kinds.CAPACITY),
        concentration=options["concentration"],
    )


def _litres(text: str | None) -> float | None:
    """Litres a day: a number alone, or a quantity such as "600 L/week"."""
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        return _quantity("--litres-a-day", text, kinds.LITRES_A_DAY)


def _quantity(option: str, text: str | None, kind: Kind) -> float | None:
    if text is None:
        return None
    try:
        return parse_unit(text, kind)
    except UnitError as fault:
        raise LastLitreError(f"{option} {text!r}: {fault.problem}.", fault.mend) from fault


def _window(name: str | None, site: Site) -> Window:
    if name is not None:
        return window_named(name)
    return DEFAULT if site.brews else STEAM_ONLY


def _draw(found: Survey, options: dict[str, Any], reader: Reader) -> None:
    size = PHONE if options["svg_size"] == "phone" else WIDE
    drawing = survey_plane(found, reader, size)
    path: Path = options["svg"]
    try:
        path.write_text(str(drawing), encoding="utf-8")
    except OSError as fault:
        raise LastLitreError(f"{path}: {fault.strerror}.", "Choose another place.") from fault
