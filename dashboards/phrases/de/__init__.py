"""German, as written in Germany and Austria: every text a person reads, a file a subject."""

from __future__ import annotations

from dashboards.phrases.language import Language, gathered
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

LANGUAGE = Language(
    code="de",
    name="Deutsch",
    texts=gathered(__name__, __path__),
    numbers=NumberForm(decimal=",", range_word="bis"),
    small_numbers=(
        "keine",
        "eins",
        "zwei",
        "drei",
        "vier",
        "fünf",
        "sechs",
        "sieben",
        "acht",
        "neun",
        "zehn",
        "elf",
        "zwölf",
    ),
    calendar=Calendar(
        months=(
            "Januar",
            "Februar",
            "März",
            "April",
            "Mai",
            "Juni",
            "Juli",
            "August",
            "September",
            "Oktober",
            "November",
            "Dezember",
        ),
        months_short=(
            "Jan",
            "Feb",
            "März",
            "Apr",
            "Mai",
            "Juni",
            "Juli",
            "Aug",
            "Sept",
            "Okt",
            "Nov",
            "Dez",
        ),
        weekdays=(
            "Montag",
            "Dienstag",
            "Mittwoch",
            "Donnerstag",
            "Freitag",
            "Samstag",
            "Sonntag",
        ),
        weekdays_short=("Mo", "Di", "Mi", "Do", "Fr", "Sa", "So"),
        day="{n}.",
        day_month="{day}\u00a0{month}",
        day_month_year="{day}\u00a0{month} {year}",
        weekday_date="{weekday}, {date}",
        weekday_clock="{weekday}, {clock}",
        now="jetzt",
        seconds_ago="vor\u00a0{n}\u202fs",
        minutes_ago="vor\u00a0{n}\u202fmin",
        at_clock="um {clock}\u202fUhr",
        range_word="bis",
    ),
)
