"""English: calibrating meters in a terminal, step by step."""

from __future__ import annotations

TEXTS = {
    "calibrate.begin": "Calibrating line {line} of {site}.",
    "calibrate.direct": "The meters are read by this command; do not start the site meanwhile.",
    "calibrate.beside": "The site is running: readings come through its file, nothing has to be "
    "stopped.",
    "calibrate.leave": "Leave at any time with Ctrl-C; what is done is kept for a day.",
    "calibrate.end": "Done. See what the meters say now: lastlitre meters watch, then lastlitre "
    "logbook",
    "calibrate.dry": "Dry probe",
    "calibrate.standard": "KCl standard",
    "calibrate.cross-zero": "Both probes in one water",
    "calibrate.jugs": "Measured jugs",
    "calibrate.done-already": "{title}: done already. Do it again",
    "calibrate.dry.do.outlet": "Take the outlet probe out of the water and shake it dry.",
    "calibrate.dry.do.inlet": "Take the inlet probe out of the water and shake it dry.",
    "calibrate.dry.reads": "reads {found} µS/cm (± {sd})",
    "calibrate.dry.not": "That is not dry: a drop between the electrodes, or a leak in the cable. "
    "Dry it and do this step again: --step dry",
    "calibrate.standard.care": "Standard does not belong into drinking water: rinse the probe well "
    "before it goes back, and flush the line before anybody drinks from it.",
    "calibrate.standard.label": "What is printed on the standard, µS/cm at 25 °C",
    "calibrate.standard.do.outlet": "Rinse the outlet probe with standard, then put it in fresh "
    "standard.",
    "calibrate.standard.do.inlet": "Rinse the inlet probe with standard, then put it in fresh "
    "standard.",
    "calibrate.standard.temp": "Temperature of the standard by a thermometer, °C (the probe: "
    "{found})",
    "calibrate.standard.true": "true {true} µS/cm, read {read}",
    "calibrate.standard.much": "it reads {off} % too much (± {sd} %)",
    "calibrate.standard.little": "it reads {off} % too little (± {sd} %)",
    "calibrate.standard.gain": "gain {gain}: its cell constant is so many times the stated one",
    "calibrate.standard.far": "That is far from 1: a wrong standard, a wrong cell constant in the "
    "site file, a bubble or dirt in the cell. Clean it and do this step again.",
    "calibrate.standard.note": "meters calibrate: dry and one KCl standard",
    "calibrate.zero.both": "Put both probes into one jug of raw water (or open the bypass fully "
    "and let it run).",
    "calibrate.zero.one": "Let raw water reach the outlet probe (open the bypass fully, or a jug "
    "of it).",
    "calibrate.zero.no-temp": "A probe gives no temperature: without it this step says nothing.",
    "calibrate.zero.outlet": "outlet {found} µS/cm at 25 °C",
    "calibrate.zero.inlet": "inlet {found} µS/cm at 25 °C",
    "calibrate.zero.apart": "the outlet probe reads {apart} % against the inlet probe",
    "calibrate.zero.far": "That is much: are both in the same water, without bubbles?",
    "calibrate.zero.note": "meters calibrate",
    "calibrate.jugs.no-meter": "This line has no flow meter.",
    "calibrate.jugs.ready-full": "Jug {n} at full flow: open the tap wide. Ready",
    "calibrate.jugs.ready-brew": "Jug {n} at brew-like flow: a thin stream, as a brewing group "
    "draws. Ready",
    "calibrate.jugs.fill": "Fill a jug now; press Enter when the tap is shut.",
    "calibrate.jugs.litres": "How many litres are in it",
    "calibrate.jugs.one": "{n} pulses: {k} pulses/L, {flow} L/min",
    "calibrate.jugs.no-pulse": "No pulse came: is the flow meter connected, does the water pass "
    "it?",
    "calibrate.jugs.full": "full flow: {k} at {flow} L/min",
    "calibrate.jugs.brew": "brew-like flow: {k} at {flow} L/min",
    "calibrate.jugs.both": "for both together: {k}",
    "calibrate.jugs.not-thin": "That was no thin stream: what happens at a trickle is still "
    "unknown.",
    "calibrate.jugs.full-only": "Nothing is known of a thin stream, where small turbines "
    "under-read: the spread is widened: {k}",
    "calibrate.jugs.k": "{k} pulses/L ± {sd} %",
    "calibrate.jugs.apart": "These jugs are {apart} % apart: one of them is wrong.",
    "calibrate.jugs.never": "They never agree: all are drawn anew. Is the turbine clogged?",
    "calibrate.jugs.left-out": "{k} pulses/L is left out; draw one more.",
    "calibrate.jugs.slip": "below {flow} L/min (± {sd}) the turbine stands still",
    "calibrate.jugs.silent": "The counter says nothing. {fault}",
    "calibrate.jugs.note": "meters calibrate: {full} jugs at full, {brew} at brew-like flow",
    "calibrate.try-again": "Try again",
    "calibrate.waiting": "waiting until the reading stands ...",
    "calibrate.silent.outlet": "The outlet probe says nothing. {fault}",
    "calibrate.silent.inlet": "The inlet probe says nothing. {fault}",
    "calibrate.moves": "It still moves after {seconds} s ({found} µS/cm).",
    "calibrate.take": "Take it as it is",
    "calibrate.try-watch": "Try: lastlitre meters watch SITE.toml",
    "calibrate.no-number": "{said}: a number from {low} to {high}, please.",
    "calibrate.keep": "Keep this",
    "calibrate.not-kept": "Not kept.",
    "calibrate.kept": "Kept: entry {n} of the logbook.",
    "calibrate.enter": "{text} [Enter]",
}
