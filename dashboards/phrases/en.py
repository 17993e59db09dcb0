"""English: every text a page shows. Another language is another file with the same keys."""

from __future__ import annotations

from dashboards.phrases.en_acts import ACTS
from dashboards.phrases.en_alarm_page import ALARM_PAGE
from dashboards.phrases.en_alarms import ALARMS
from dashboards.phrases.en_faults import FAULTS
from dashboards.phrases.en_fit import FIT
from dashboards.phrases.en_history import HISTORY
from dashboards.phrases.en_paper import PAPER
from dashboards.phrases.en_remarks import REMARKS
from dashboards.phrases.en_wiring import WIRING
from dashboards.phrases.language import Language
from dashboards.phrases.numbers import NumberForm
from dashboards.phrases.times import Calendar

STATES = {
    "state.right": "Right",
    "state.due": "Due",
    "state.act": "Change now",
    "state.hard": "Too hard",
    "state.doubt": "In doubt",
    "state.unknown": "Not known",
    "state.silent": "Silent",
}

HEADLINES = {
    "right.first": "The water is right.",
    "right.then": "About {litres} left, likely until {day} {range}.",
    "right.no-day": "About {litres} left {range}.",
    "right.long": "About {litres} left, enough for more than a year.",
    "due.then": "Change the cartridge by {day}; about {litres} left {range}.",
    "due.today": "Change the cartridge today; about {litres} left {range}.",
    "due.no-day": "Change the cartridge soon; about {litres} left {range}.",
    "time.first-no-bed": "The cartridge is in date.",
    "time.then-no-bed": "It is {limit} old on {day}: change it then.",
    "time.then": "The cartridge is {limit} old on {day}: change it then.",
    "carbon.then": "The carbon is used up about {day} {range}: change the cartridge then.",
    "past.first": "Change the cartridge now.",
    "past.then": "It is past its end; the machine gets {outlet}, it should get {window}.",
    "past.rising": "It is past its end; the machine gets {outlet} {range}, and that is rising.",
    "past.bare": "It is past its end.",
    "past.time": "It was {limit} old on {day}.",
    "past.carbon": "Its carbon was used up about {day}.",
    "hard.first": "The water is too hard.",
    "hard.then": "The machine gets {outlet}, it should get {window}; "
    "the cartridge is not at its end.",
    "source.first": "The water main has changed, not the cartridge.",
    "source.up": "Hardness in is up from {before} to {after}.",
    "source.down": "Hardness in is down from {before} to {after}.",
    "source.now": "Hardness in is now {after} {range}.",
    "doubt.first": "The figure cannot be trusted.",
    "doubt.test": "The drop test says {test}, the figure said {figure}. Test again.",
    "doubt.bare": "A drop test now shows where it stands.",
    "unknown.first": "Not known yet.",
    "unknown.then": "A drop test now gives the first figure.",
    "unknown.no-bed": "Enter the day it was fitted: only age and litres tell its end.",
    "silent.first": "No word from the meters since {moment}.",
    "silent.never": "No word from the meters yet.",
    "silent.then": "Before that, about {litres} were left {range}.",
    "silent.no-figure": "Before that, nothing was known of the cartridge.",
    "window.most": "at most {high}",
}

NEXT = {
    "next.nothing": "Nothing to do today.",
    "next.order": "Order the next cartridge by {day}.",
    "next.order-now": "Order the next cartridge today.",
    "next.ready": "Have the next cartridge at hand.",
    "next.scale": "What the machine gets now can leave scale in it.",
    "next.scale-soon": "Soon the water can leave scale in the machine.",
    "next.bypass": "Check the bypass, then do a drop test of the machine's water.",
    "next.test": "Do a drop test of the machine's water.",
    "next.power": "Check the power and the cable of the meter box.",
    "next.still-left": "About {litres} left {range}, likely until {day} {days}.",
    "next.still-left-bare": "About {litres} left {range}.",
    "next.figure-was": "The figure is about {litres} left {range}.",
}

SECTIONS = {
    "page.title": "Now",
    "page.contents": "Contents",
    "page.lines": "Lines",
    "page.lines-note": "the one in most need first",
    "page.read-again": "Read again",
    "page.live": "live",
    "page.not-live": "not live",
    "page.as-of": "as of {moment}",
    "page.units": "Hardness in",
    "page.look": "Paper",
    "look.device": "as the device",
    "look.light": "light",
    "look.dark": "dark",
    "page.demo": "A demonstration: the clock runs {speed} times as fast. It is {day}, {clock}.",
    "page.footer": "An estimate is not a test: do a drop test before a decision that can "
    "cost a machine.",
    "page.skip": "To the contents",
    "page.none": "No line is set up. Name one in the site file and start again.",
    "page.wall": "For the wall",
    "page.narrow": "All of it",
    "litres.title": "Litres",
    "litres.today": "today",
    "litres.week": "Last seven days: {litres} {range}.",
    "litres.week-some": "Last seven days: {litres} {range}; {gaps} of them without word.",
    "litres.shut": "shut",
    "litres.none": "no word",
    "litres.no-meter": "This line has no flow meter.",
    "litres.left": "Nine times in ten: {litres}.",
    "litres.days": "At the usual use that is {likely} days ({days}).",
    "litres.left-days": "Nine times in ten: {litres}, {days} days; most likely {likely} days.",
    "water.title": "Water",
    "water.margin": "to the machine",
    "water.window": "Square bracket: what the machine should get. Box: where it is, nine times in "
    "ten. Ring: raw water.",
    "water.no-window": "Box: where it is, nine times in ten. Ring: raw water.",
    "water.raw": "raw {value}",
    "alarms.title": "Alarms",
    "alarms.since": "since {moment}",
    "why.title": "Why",
    "why.margin": "do you say that?",
    "why.rests": "The figure rests on:",
    "why.rests-said": "The figure rests {conductivity} on conductivity, {litres} on litres, "
    "{tests} on drop tests.",
    "why.conductivity": "conductivity",
    "why.litres": "litres",
    "why.tests": "drop tests",
    "why.last-test": "Last drop test: {what}, {day}{who}.",
    "why.no-figure": "There is no figure yet to give reasons for.",
    "care.title": "Care",
    "figure.outlet": "Hardness, to the machine",
    "figure.alkaline": "Carbonate hardness, to the machine",
    "figure.calcium": "Calcium hardness, to the machine",
    "figure.ec-out": "Conductivity behind the filter, at 25 °C",
    "figure.ec-in": "Conductivity of raw water, at 25 °C",
    "figure.temp": "Temperature",
    "figure.flow": "Flow now",
    "figure.today": "Today",
    "absent.no-meter": "no meter for this",
    "absent.no-word": "no word yet",
    "absent.no-figure": "not known yet",
    "priority.high": "high",
    "priority.medium": "medium",
    "priority.low": "low",
    "change.raised": "not acknowledged",
    "change.acknowledged": "acknowledged",
    "change.cleared": "returned to normal, not acknowledged",
    "change.shelved": "shelved",
    "change.suppressed": "suppressed by design",
    "change.out-of-service": "out of service",
}

ACCESS = {
    "access.sign-in": "Sign in",
    "access.sign-out": "Sign out",
    "access.everywhere": "Sign out everywhere",
    "access.signed-in": "Signed in as {name}.",
    "access.nobody": "Nobody has a password yet.",
    "access.nobody.mend": "On the machine itself type: lastlitre people SITE.toml add NAME",
    "access.in-clear": "Signing in over this network is switched off, because a password could be "
    "read on the way.",
    "access.in-clear.mend": "Use the address that begins with https, or the machine itself. "
    "Whoever set this up finds tls_cert and logins_in_clear in the site file.",
    "sign-in.title": "Sign in",
    "sign-in.why": "Then the logbook knows who did what.",
    "sign-in.name": "Your name",
    "sign-in.password": "Your password",
    "sign-in.wrong": "Name and password do not belong together. Try again.",
    "sign-in.wait": "Too many tries. Wait {seconds} seconds, then try again.",
}

BED = {
    "bed.title": "Bed profile",
    "bed.spent": "spent",
    "bed.since": "since {day}",
    "bed.passed": "{litres} passed",
    "bed.front": "exchange front",
    "bed.left": "{share} left",
    "bed.fresh": "fresh",
    "bed.past": "past",
    "bed.ran-out": "ran out {day}",
    "bed.today": "today",
    "bed.raw": "raw water {value}",
    "bed.out": "to the machine {value}",
    "bed.round": "goes round",
    "bed.round-share": "{share} goes round",
    "bed.set-works": "set {set}, works as {works}",
    "bed.as-of": "as of {moment}",
    "bed.blind": "the probe cannot see",
    "bed.blind-2": "this medium",
    "bed.after": "after {month}",
    "bed.by-time": "by its age",
    "bed.by-carbon": "by its carbon",
    "bed.no-bed.carbon": "carbon, no resin",
    "bed.no-bed.membrane": "membrane, no resin",
    "bed.no-bed.polyphosphate": "dosing, no resin",
    "bed.said.no-bed": "No bed of resin: {kind}.",
    "bed.said.spent": "Column of resin, read from the top: {used} is spent{since}.",
    "bed.said.since": ", {litres} have passed since {day}",
    "bed.said.passed": ", {litres} have passed",
    "bed.said.front": "The exchange front is at {left} left and may lie anywhere from {high} to "
    "{low} left.",
    "bed.said.fresh": "Below it the resin is fresh, good for {litres} ({low} to {high}).",
    "bed.said.past": "The front has passed the end line; nothing counted on is left "
    "(at most {high}).",
    "bed.said.end": "It is expected to reach the end line on {day} ({range})",
    "bed.said.end-one": "It is expected to reach the end line on {day}",
    "bed.said.end-time": "It is to be changed on {day} because of its age",
    "bed.said.end-carbon": "Its carbon is expected to be used up on {day}",
    "bed.said.end-past": "It reached the end line on {day}",
    "bed.said.end-long": "It is not expected to reach the end line within a year",
    "bed.said.end-none": "The day of the end is not known",
    "bed.said.round": "; {share} of the water goes round the bed.",
    "bed.said.unknown": "Column of resin. How much of it is spent is not known. There is no front "
    "to show. A drop test now gives the first figure.",
    "bed.said.stale": " The drawing is as of {moment}.",
    "bed.said.blind": " The probe cannot see this medium.",
}

CARE = {
    "care.hydrogen": "This medium makes water more acid. Where almost all alkalinity is taken, it "
    "can corrode boilers and pipes.",
    "care.mixed": "This medium makes water more acid. Where almost all alkalinity is taken, it "
    "can corrode boilers and pipes.",
    "care.sodium": "This medium adds sodium: about 8 mg in each litre for every °dH taken out. "
    "Tell guests on a low-sodium diet.",
    "care.magnesium": "Magnesium stays in the water: a steam boiler can still get deposits of it.",
    "care.membrane": "Water from a membrane is very soft: it corrodes boilers unless minerals are "
    "put back.",
    "care.polyphosphate": "Hardness is hidden, not taken out: films and sludge can block the fine "
    "passages of an espresso machine.",
    "care.any": "After days of standing, flush before drinking. A cartridge does not make unsafe "
    "water safe.",
}

MEDIA = {
    "medium.hydrogen": "hydrogen",
    "medium.mixed": "mixed hydrogen and magnesium",
    "medium.magnesium": "magnesium",
    "medium.sodium": "sodium",
    "medium.membrane": "membrane",
    "medium.carbon": "carbon",
    "medium.polyphosphate": "polyphosphate",
    "footer.cartridge": "cartridge: {medium}, fitted {day}",
    "footer.cartridge-no-day": "cartridge: {medium}",
}

UNITS = {
    "unit.litres": "{n} litres",
    "unit.gallons": "{n} US gallons",
    "limit.months": "{n} months",
    "limit.days": "{n} days",
}

ENGLISH = Language(
    code="en",
    texts={
        **STATES,
        **HEADLINES,
        **NEXT,
        **SECTIONS,
        **ACCESS,
        **ACTS,
        **BED,
        **CARE,
        **MEDIA,
        **UNITS,
        **ALARM_PAGE,
        **FIT,
        **HISTORY,
        **PAPER,
        **ALARMS,
        **FAULTS,
        **WIRING,
        **REMARKS,
    },
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
