"""German: the survey as a report in a terminal, and its plane of hardness and alkalinity."""

from __future__ import annotations

REPORT = {
    "report.none": "Keines der Medien bringt dieses Wasser in den Zielbereich.",
    "report.none-nearest": "Keines der Medien bringt dieses Wasser in den Zielbereich. Am nächsten "
    "kommt: {family}.",
    "report.answer": "{what}.",
    "report.answer-gets": "{what}. Die Maschine bekäme {hardness} Härte und {alkalinity} "
    "Säurekapazität.",
    "report.answer-outside": "{what}. Die Maschine bekäme {hardness} Härte und {alkalinity} "
    "Säurekapazität: knapp außerhalb des Zielbereichs.",
    "report.answer-chance": "{what}. Die Maschine bekäme {hardness} Härte und {alkalinity} "
    "Säurekapazität: im Zielbereich in {cases}.",
    "report.what.carbon": "Aktivkohle und ein Partikelfilter genügen",
    "report.what.no-bypass": "{family}, ohne Verschnitt",
    "report.what.bypass": "{family}, {share} Verschnitt",
    "report.raw": "Rohwasser (5–95 % in Klammern)",
    "report.how.plausible": "nicht getestet: was plausibel ist",
    "report.how.doubt": "fraglich: {said}",
    "report.how.report": "Bericht: {said}",
    "report.how.tested": "getestet: {said}",
    "report.look-again": "Noch einmal prüfen",
    "report.to-know": "Zu wissen",
    "report.wide": "Bis dahin ist die Antwort weit genug für beides.",
    "report.machine": "Was die Maschine bekommt",
    "report.head.raw": "Rohwasser",
    "report.head.machine": "Maschine",
    "report.head.window": "Zielbereich",
    "report.row.hardness": "Gesamthärte",
    "report.row.calcium": "Calcium",
    "report.row.alkalinity": "Säurekapazität",
    "report.row.ec25": "EC25",
    "report.row.tds": "TDS (EC25 × {factor})",
    "report.row.sodium": "Natrium",
    "report.row.chloride": "Chlorid",
    "report.row.ph": "pH am Hahn",
    "report.row.air": "an der Luft gestanden",
    "report.row.si-closed": "SI bei {temp}, geschlossen",
    "report.row.si-open": "nach Abgang des CO₂",
    "report.row.si-steam": "SI bei {temp}, {many}×",
    "report.row.lime": "möglicher Kalk",
    "report.from": "ab {low}",
    "report.up-to": "bis {high}",
    "report.bypass": "Verschnitt",
    "report.bypass.formula": "Ziel {name}: {target} aus {raw}, mit {leak} Schlupf hinter einem "
    "neuen Bett: {formula} = {share}.",
    "report.bypass.surer": "{share} halten das Wasser sicherer im Zielbereich.",
    "report.bypass.scale": "Mehr als {share} lässt der Kalk im Brühkessel nicht zu.",
    "report.bypass.window": "Im Zielbereich von {low} bis {high}.",
    "report.size": "Größe",
    "report.size.calcite": "Das Calcitbett verliert an einem offenen Tag etwa {grams}.",
    "report.size.membrane": "Eine Membran wird nach Litern am Tag und ihrer Ausbeute bemessen, "
    "nicht nach einer Kapazität.",
    "report.size.refill": "Füllen Sie nach, bevor die Hälfte fort ist.",
    "report.size.stated": "Nach den angegebenen Litern, und spätestens nach 6 bis 12 Monaten.",
    "report.size.litres": "{capacity} ÷ ({taken} {kind} × {through}) = {litres} Liter ({low} bis "
    "{high}).",
    "report.size.litres-time": "{capacity} ÷ ({taken} {kind} × {through}) = {litres} Liter ({low} "
    "bis {high}), {time} bei {daily} Litern an einem offenen Tag.",
    "report.size.litres-hygiene": "{capacity} ÷ ({taken} {kind} × {through}) = {litres} Liter "
    "({low} bis {high}), {time} bei {daily} Litern an einem offenen Tag; die Hygiene beendet sie "
    "nach 12 Monaten.",
    "report.size.needs": "Für {months} Monate ({monthly} Liter im Monat) braucht es {capacity} "
    "{kind} ({low} bis {high}): {taken} × {through} × Liter.",
    "report.size.each": "Jeder Liter nimmt der Kapazität {each} {kind} ({taken} × {through}). Mit "
    "--litres-a-day und --capacity werden daraus Monate.",
    "report.size.months": "{n} Monate ({low} bis {high})",
    "report.size.days": "{n} Tage ({low} bis {high})",
    "report.instead": "Stattdessen",
    "report.why-not": "Warum nicht die anderen",
    "report.care": "Vorsicht",
    "report.window": "Zielbereich",
    "report.window.profile": "Profil {name}: Härte {hardness}, Säurekapazität {alkalinity}. "
    "Quelle: {source}. Zum Ändern: lastlitre survey --print-profile {name} > mine.toml, dann "
    "--window mine.toml.",
    "report.window.si": "SI: Calcit, Konstanten aus PHREEQC 3.8.6 phreeqc.dat.",
}

PLANE = {
    "plane.title": "Härte und Säurekapazität",
    "plane.said.axes": "Die Gesamthärte läuft nach rechts, die Säurekapazität nach oben, in "
    "{unit}.",
    "plane.said.window": "Der Zielbereich umfasst Härte {left} bis {right} und Säurekapazität "
    "{low} bis {high}.",
    "plane.said.raw": "Das Rohwasser liegt bei {hardness} und {alkalinity}.",
    "plane.said.machine": "Das Wasser der Maschine liegt bei {hardness} und {alkalinity}; "
    "Aufbereitung: {family}.",
    "plane.said.machine-bypass": "Das Wasser der Maschine liegt bei {hardness} und {alkalinity}, "
    "mit {share} Rohwasser am Bett vorbei.",
    "plane.said.flecks": "Flecken werden dichter, wo im Kessel Kalk ausfällt.",
    "plane.up": "↑ Säurekapazität, {unit}",
    "plane.across": "Gesamthärte, {unit} →",
    "plane.raw": "roh",
    "plane.raw-stays": "roh, wie es ist",
    "plane.bed": "nur Bett",
    "plane.flecks": "Flecken: Kalk",
    "plane.blended": "Verschnitt {share}",
    "plane.treated": "aufbereitet",
}

TEXTS = {**REPORT, **PLANE}
