"""English: the survey as a report in a terminal, and its plane of hardness and alkalinity."""

from __future__ import annotations

REPORT = {
    "report.none": "None of the media brings this water into the window.",
    "report.none-nearest": "None of the media brings this water into the window. Nearest comes "
    "{family}.",
    "report.answer": "{what}.",
    "report.answer-gets": "{what}. The machine would get {hardness} of hardness and {alkalinity} "
    "of alkalinity.",
    "report.answer-outside": "{what}. The machine would get {hardness} of hardness and "
    "{alkalinity} of alkalinity: just outside the window.",
    "report.answer-chance": "{what}. The machine would get {hardness} of hardness and {alkalinity} "
    "of alkalinity: in the window in {cases}.",
    "report.what.carbon": "Carbon and a particle filter are enough",
    "report.what.no-bypass": "{family}, no bypass",
    "report.what.bypass": "{family}, {share} round the bed",
    "report.raw": "Raw water (5–95 % in brackets)",
    "report.how.plausible": "not tested: what is plausible",
    "report.how.doubt": "in doubt: {said}",
    "report.how.report": "report: {said}",
    "report.how.tested": "tested: {said}",
    "report.look-again": "Look again",
    "report.to-know": "To know",
    "report.wide": "Until then the answer is wide enough for both.",
    "report.machine": "What the machine gets",
    "report.head.raw": "raw",
    "report.head.machine": "machine",
    "report.head.window": "window",
    "report.row.hardness": "total hardness",
    "report.row.calcium": "calcium",
    "report.row.alkalinity": "alkalinity",
    "report.row.ec25": "EC25",
    "report.row.tds": "TDS (EC25 × {factor})",
    "report.row.sodium": "sodium",
    "report.row.chloride": "chloride",
    "report.row.ph": "pH at the tap",
    "report.row.air": "stood in air",
    "report.row.si-closed": "SI at {temp}, closed",
    "report.row.si-open": "once CO₂ has gone",
    "report.row.si-steam": "SI at {temp}, {many}×",
    "report.row.lime": "lime it can leave",
    "report.from": "from {low}",
    "report.up-to": "up to {high}",
    "report.bypass": "Bypass",
    "report.bypass.formula": "Aimed at {name} {target} from {raw} with {leak} left behind a new "
    "bed: {formula} = {share}.",
    "report.bypass.surer": "{share} keeps the water in the window more surely.",
    "report.bypass.scale": "{share} is as much as scale in the brew boiler allows.",
    "report.bypass.window": "In the window from {low} to {high}.",
    "report.size": "Size",
    "report.size.calcite": "The calcite bed loses about {grams} on an open day.",
    "report.size.membrane": "A membrane is sized by litres a day and its recovery, not by a "
    "capacity.",
    "report.size.refill": "Refill it before half is gone.",
    "report.size.stated": "By its stated litres, and at the latest after 6 to 12 months.",
    "report.size.litres": "{capacity} ÷ ({taken} of {kind} × {through}) = {litres} litres ({low} "
    "to {high}).",
    "report.size.litres-time": "{capacity} ÷ ({taken} of {kind} × {through}) = {litres} litres "
    "({low} to {high}), {time} at {daily} litres an open day.",
    "report.size.litres-hygiene": "{capacity} ÷ ({taken} of {kind} × {through}) = {litres} litres "
    "({low} to {high}), {time} at {daily} litres an open day; hygiene ends it after 12 months.",
    "report.size.needs": "For {months} months ({monthly} litres a month) it needs {capacity} of "
    "{kind} ({low} to {high}): {taken} × {through} × litres.",
    "report.size.each": "Each litre takes {each} of {kind} from the capacity ({taken} × "
    "{through}). With --litres-a-day and --capacity this becomes months.",
    "report.size.months": "{n} months ({low} to {high})",
    "report.size.days": "{n} days ({low} to {high})",
    "report.instead": "Instead",
    "report.why-not": "Why not the others",
    "report.care": "Care",
    "report.window": "Window",
    "report.window.profile": "Profile {name}: hardness {hardness}, alkalinity {alkalinity}. "
    "Source: {source}. To change it: lastlitre survey --print-profile {name} > mine.toml, then "
    "--window mine.toml.",
    "report.window.si": "SI: calcite, constants of PHREEQC 3.8.6 phreeqc.dat.",
}

PLANE = {
    "plane.title": "Hardness and alkalinity",
    "plane.said.axes": "Total hardness runs across and alkalinity up, in {unit}.",
    "plane.said.window": "The window spans hardness {left} to {right} and alkalinity {low} to "
    "{high}.",
    "plane.said.raw": "Raw water lies at {hardness} and {alkalinity}.",
    "plane.said.machine": "The machine's water lies at {hardness} and {alkalinity}, behind "
    "{family}.",
    "plane.said.machine-bypass": "The machine's water lies at {hardness} and {alkalinity}, with "
    "{share} of raw water round the bed.",
    "plane.said.flecks": "Flecks thicken where lime drops in the boiler.",
    "plane.up": "↑ alkalinity, {unit}",
    "plane.across": "total hardness, {unit} →",
    "plane.raw": "raw",
    "plane.raw-stays": "raw, as it is",
    "plane.bed": "bed alone",
    "plane.flecks": "flecks: scale",
    "plane.blended": "blended at {share}",
    "plane.treated": "treated",
}

TEXTS = {**REPORT, **PLANE}
