"""French: the survey as a report in a terminal, and its plane of hardness and alkalinity."""

from __future__ import annotations

REPORT = {
    "report.none": "Aucun des médias n’amène cette eau dans la fenêtre.",
    "report.none-nearest": "Aucun des médias n’amène cette eau dans la fenêtre. Le plus "
    "proche\u00a0: {family}.",
    "report.answer": "{what}.",
    "report.answer-gets": "{what}. La machine recevrait {hardness} de dureté et {alkalinity} "
    "d’alcalinité.",
    "report.answer-outside": "{what}. La machine recevrait {hardness} de dureté et {alkalinity} "
    "d’alcalinité\u00a0: juste hors de la fenêtre.",
    "report.answer-chance": "{what}. La machine recevrait {hardness} de dureté et {alkalinity} "
    "d’alcalinité\u00a0: dans la fenêtre dans {cases}.",
    "report.what.carbon": "Du charbon et un filtre à particules suffisent",
    "report.what.no-bypass": "{family}, sans by-pass",
    "report.what.bypass": "{family}, {share} par le by-pass",
    "report.raw": "Eau brute (5–95\u202f% entre parenthèses)",
    "report.how.plausible": "non testé\u00a0: ce qui est plausible",
    "report.how.doubt": "douteux\u00a0: {said}",
    "report.how.report": "analyse\u00a0: {said}",
    "report.how.tested": "testé\u00a0: {said}",
    "report.look-again": "À revoir",
    "report.to-know": "À savoir",
    "report.wide": "D’ici là, la réponse est assez large pour les deux.",
    "report.machine": "Ce que reçoit la machine",
    "report.head.raw": "brute",
    "report.head.machine": "machine",
    "report.head.window": "fenêtre",
    "report.row.hardness": "dureté totale",
    "report.row.calcium": "calcium",
    "report.row.alkalinity": "alcalinité",
    "report.row.ec25": "EC25",
    "report.row.tds": "TDS (EC25 × {factor})",
    "report.row.sodium": "sodium",
    "report.row.chloride": "chlorures",
    "report.row.ph": "pH au robinet",
    "report.row.air": "après repos à l’air",
    "report.row.si-closed": "SI à {temp}, fermé",
    "report.row.si-open": "une fois le CO₂ parti",
    "report.row.si-steam": "SI à {temp}, {many}×",
    "report.row.lime": "calcaire possible",
    "report.from": "dès {low}",
    "report.up-to": "jusqu’à {high}",
    "report.bypass": "By-pass",
    "report.bypass.formula": "Visé\u00a0: {name} {target} à partir de {raw}, avec {leak} restants "
    "après un lit neuf\u00a0: {formula} = {share}.",
    "report.bypass.surer": "{share} garde l’eau plus sûrement dans la fenêtre.",
    "report.bypass.scale": "{share} est le maximum que permet le tartre dans la chaudière à café.",
    "report.bypass.window": "Dans la fenêtre de {low} à {high}.",
    "report.size": "Taille",
    "report.size.calcite": "Le lit de calcite perd environ {grams} par jour d’ouverture.",
    "report.size.membrane": "Une membrane se choisit par les litres par jour et son taux de "
    "conversion, pas par une capacité.",
    "report.size.refill": "Complétez-le avant que la moitié soit partie.",
    "report.size.stated": "D’après ses litres indiqués, et au plus tard au bout de 6 à 12 mois.",
    "report.size.litres": "{capacity} ÷ ({taken} de {kind} × {through}) = {litres} litres ({low} à "
    "{high}).",
    "report.size.litres-time": "{capacity} ÷ ({taken} de {kind} × {through}) = {litres} litres "
    "({low} à {high}), {time} à {daily} litres par jour d’ouverture.",
    "report.size.litres-hygiene": "{capacity} ÷ ({taken} de {kind} × {through}) = {litres} litres "
    "({low} à {high}), {time} à {daily} litres par jour d’ouverture\u202f; l’hygiène y met fin au "
    "bout de 12 mois.",
    "report.size.needs": "Pour {months} mois ({monthly} litres par mois), il faut {capacity} de "
    "{kind} ({low} à {high})\u00a0: {taken} × {through} × litres.",
    "report.size.each": "Chaque litre prend {each} de {kind} sur la capacité ({taken} × "
    "{through}). Avec --litres-a-day et --capacity, cela devient des mois.",
    "report.size.months": "{n} mois ({low} à {high})",
    "report.size.days": "{n} jours ({low} à {high})",
    "report.instead": "Autres choix",
    "report.why-not": "Pourquoi pas les autres",
    "report.care": "Précautions",
    "report.window": "Fenêtre",
    "report.window.profile": "Profil {name}\u00a0: dureté {hardness}, alcalinité {alkalinity}. "
    "Source\u00a0: {source}. Pour le changer\u00a0: lastlitre survey --print-profile {name} > "
    "mine.toml, puis --window mine.toml.",
    "report.window.si": "SI (indice de saturation)\u00a0: calcite, constantes de PHREEQC "
    "3.8.6 phreeqc.dat.",
}

PLANE = {
    "plane.title": "Dureté et alcalinité",
    "plane.said.axes": "La dureté totale est en abscisse, l’alcalinité en ordonnée, en {unit}.",
    "plane.said.window": "La fenêtre va de {left} à {right} en dureté et de {low} à {high} en "
    "alcalinité.",
    "plane.said.raw": "L’eau brute est à {hardness} et {alkalinity}.",
    "plane.said.machine": "L’eau de la machine est à {hardness} et {alkalinity}, traitement\u00a0: "
    "{family}.",
    "plane.said.machine-bypass": "L’eau de la machine est à {hardness} et {alkalinity}, avec "
    "{share} d’eau brute par le by-pass.",
    "plane.said.flecks": "Les mouchetures sont plus denses là où le calcaire se dépose dans la "
    "chaudière.",
    "plane.up": "↑ alcalinité, {unit}",
    "plane.across": "dureté totale, {unit} →",
    "plane.raw": "brute",
    "plane.raw-stays": "brute, telle quelle",
    "plane.bed": "lit seul",
    "plane.flecks": "mouchetures\u00a0: tartre",
    "plane.blended": "mélangée à {share}",
    "plane.treated": "traitée",
}

TEXTS = {**REPORT, **PLANE}
