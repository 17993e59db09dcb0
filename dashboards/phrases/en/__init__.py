"""English: every text a person reads, a file a subject; another language is another folder like it.

Which texts there are, and the blanks in each, is said here.
"""

from __future__ import annotations

from dashboards.phrases.language import Language, gathered
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

LANGUAGE = Language(
    code="en",
    name="English",
    texts=gathered(__name__, __path__),
    numbers=NumberForm(),
    small_numbers=(
        "no",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
    ),
    calendar=Calendar(
        months=(
            "January",
            "February",
            "March",
            "April",
            "May",
            "June",
            "July",
            "August",
            "September",
            "October",
            "November",
            "December",
        ),
        months_short=(
            "Jan",
            "Feb",
            "Mar",
            "Apr",
            "May",
            "Jun",
            "Jul",
            "Aug",
            "Sep",
            "Oct",
            "Nov",
            "Dec",
        ),
        weekdays=("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
        weekdays_short=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    ),
)
