"""French, as written in France and Switzerland: every text a person reads, a file a subject."""

from __future__ import annotations

from dashboards.phrases.language import Language, gathered
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

LANGUAGE = Language(
    code="fr",
    name="Français",
    texts=gathered(__name__, __path__),
    numbers=NumberForm(decimal=",", range_word="à"),
    small_numbers=(
        "zéro",
        "un",
        "deux",
        "trois",
        "quatre",
        "cinq",
        "six",
        "sept",
        "huit",
        "neuf",
        "dix",
        "onze",
        "douze",
    ),
    calendar=Calendar(
        months=(
            "janvier",
            "février",
            "mars",
            "avril",
            "mai",
            "juin",
            "juillet",
            "août",
            "septembre",
            "octobre",
            "novembre",
            "décembre",
        ),
        months_short=(
            "janv",
            "févr",
            "mars",
            "avr",
            "mai",
            "juin",
            "juil",
            "août",
            "sept",
            "oct",
            "nov",
            "déc",
        ),
        weekdays=("lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi", "dimanche"),
        weekdays_short=("lun.", "mar.", "mer.", "jeu.", "ven.", "sam.", "dim."),
        first_of_month="1er",
        weekday_clock="{weekday} à {clock}",
        now="maintenant",
        seconds_ago="il y a\u00a0{n}\u202fs",
        minutes_ago="il y a\u00a0{n}\u202fmin",
        at_clock="à {clock}",
        range_word="au",
    ),
)
