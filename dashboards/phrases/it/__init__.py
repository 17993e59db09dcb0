"""Italian: every text a person reads, a file a subject."""

from __future__ import annotations

from dashboards.phrases.language import Language, gathered
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

LANGUAGE = Language(
    code="it",
    name="Italiano",
    texts=gathered(__name__, __path__),
    numbers=NumberForm(decimal=",", range_word="a"),
    small_numbers=(
        "zero",
        "uno",
        "due",
        "tre",
        "quattro",
        "cinque",
        "sei",
        "sette",
        "otto",
        "nove",
        "dieci",
        "undici",
        "dodici",
    ),
    calendar=Calendar(
        months=(
            "gennaio",
            "febbraio",
            "marzo",
            "aprile",
            "maggio",
            "giugno",
            "luglio",
            "agosto",
            "settembre",
            "ottobre",
            "novembre",
            "dicembre",
        ),
        months_short=(
            "gen",
            "feb",
            "mar",
            "apr",
            "mag",
            "giu",
            "lug",
            "ago",
            "set",
            "ott",
            "nov",
            "dic",
        ),
        weekdays=(
            "lunedì",
            "martedì",
            "mercoledì",
            "giovedì",
            "venerdì",
            "sabato",
            "domenica",
        ),
        weekdays_short=("lun", "mar", "mer", "gio", "ven", "sab", "dom"),
        first_of_month="1º",
        day_month="{day}\u00a0{month}",
        day_month_year="{day}\u00a0{month} {year}",
        weekday_clock="{weekday} alle {clock}",
        now="adesso",
        seconds_ago="{n} s fa",
        minutes_ago="{n} min fa",
        at_clock="alle {clock}",
        range_word="\u2013",
    ),
)
