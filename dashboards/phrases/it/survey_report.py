"""Italian: the survey as a report in a terminal, and its plane of hardness and alkalinity."""

from __future__ import annotations

REPORT = {
    "report.none": "Nessuno dei materiali porta quest'acqua nella finestra.",
    "report.none-nearest": "Nessuno dei materiali porta quest'acqua nella finestra. Il più "
    "vicino: {family}.",
    "report.answer": "{what}.",
    "report.answer-gets": "{what}. La macchina riceverebbe {hardness} di durezza e {alkalinity} "
    "di alcalinità.",
    "report.answer-outside": "{what}. La macchina riceverebbe {hardness} di durezza e "
    "{alkalinity} di alcalinità: appena fuori dalla finestra.",
    "report.answer-chance": "{what}. La macchina riceverebbe {hardness} di durezza e {alkalinity} "
    "di alcalinità: nella finestra in {cases}.",
    "report.what.carbon": "Bastano carbone attivo e un filtro per particelle",
    "report.what.no-bypass": "{family}, senza by-pass",
    "report.what.bypass": "{family}, by-pass {share}",
    "report.raw": "Acqua grezza (5–95\u202f% tra parentesi)",
    "report.how.plausible": "non misurato: valore plausibile",
    "report.how.doubt": "in dubbio: {said}",
    "report.how.report": "analisi: {said}",
    "report.how.tested": "misurato: {said}",
    "report.look-again": "Da ricontrollare",
    "report.to-know": "Da sapere",
    "report.wide": "Fino ad allora la risposta è larga abbastanza per entrambi.",
    "report.machine": "Che cosa riceve la macchina",
    "report.head.raw": "grezza",
    "report.head.machine": "macchina",
    "report.head.window": "finestra",
    "report.row.hardness": "durezza totale",
    "report.row.calcium": "calcio",
    "report.row.alkalinity": "alcalinità",
    "report.row.ec25": "EC25",
    "report.row.tds": "TDS (EC25 × {factor})",
    "report.row.sodium": "sodio",
    "report.row.chloride": "cloruri",
    "report.row.ph": "pH al rubinetto",
    "report.row.air": "dopo sosta all'aria",
    "report.row.si-closed": "SI a {temp}, chiuso",
    "report.row.si-open": "senza più CO₂",
    "report.row.si-steam": "SI a {temp}, {many}×",
    "report.row.lime": "calcare che può lasciare",
    "report.from": "da {low}",
    "report.up-to": "fino a {high}",
    "report.bypass": "By-pass",
    "report.bypass.formula": "Obiettivo: {name} {target}, partendo da {raw}, con {leak} che resta "
    "dopo un letto nuovo: {formula} = {share}.",
    "report.bypass.surer": "{share} tiene l'acqua nella finestra con più sicurezza.",
    "report.bypass.scale": "{share} è quanto il calcare nella caldaia caffè permette.",
    "report.bypass.window": "Nella finestra da {low} a {high}.",
    "report.size": "Dimensione",
    "report.size.calcite": "Il letto di calcite perde circa {grams} per giorno di apertura.",
    "report.size.membrane": "Una membrana si dimensiona sui litri al giorno e sul suo recupero, "
    "non su una capacità.",
    "report.size.refill": "Ricaricarlo prima che se ne vada la metà.",
    "report.size.stated": "Secondo i litri dichiarati, e al più tardi dopo 6–12 mesi.",
    "report.size.litres": "{capacity} ÷ ({taken} di {kind} × {through}) = {litres} litri (da "
    "{low} a {high}).",
    "report.size.litres-time": "{capacity} ÷ ({taken} di {kind} × {through}) = {litres} litri (da "
    "{low} a {high}), {time} con {daily} litri per giorno di apertura.",
    "report.size.litres-hygiene": "{capacity} ÷ ({taken} di {kind} × {through}) = {litres} litri "
    "(da {low} a {high}), {time} con {daily} litri per giorno di apertura; per igiene finisce "
    "comunque dopo 12 mesi.",
    "report.size.needs": "Per {months} mesi ({monthly} litri al mese) servono {capacity} di "
    "{kind} (da {low} a {high}): {taken} × {through} × litri.",
    "report.size.each": "Ogni litro toglie alla capacità {each} di {kind} ({taken} × {through}). "
    "Con --litres-a-day e --capacity se ne ricavano i mesi.",
    "report.size.months": "{n} mesi (da {low} a {high})",
    "report.size.days": "{n} giorni (da {low} a {high})",
    "report.instead": "In alternativa",
    "report.why-not": "Perché non gli altri",
    "report.care": "Attenzione",
    "report.window": "Finestra",
    "report.window.profile": "Profilo {name}: durezza {hardness}, alcalinità {alkalinity}. Fonte: "
    "{source}. Per cambiarlo: lastlitre survey --print-profile {name} > mine.toml, poi --window "
    "mine.toml.",
    "report.window.si": "SI (indice di saturazione): calcite, costanti di PHREEQC 3.8.6 "
    "phreeqc.dat.",
}

PLANE = {
    "plane.title": "Durezza e alcalinità",
    "plane.said.axes": "In orizzontale la durezza totale, in verticale l'alcalinità, in {unit}.",
    "plane.said.window": "La finestra va da {left} a {right} di durezza e da {low} a {high} di "
    "alcalinità.",
    "plane.said.raw": "L'acqua grezza è a {hardness} e {alkalinity}.",
    "plane.said.machine": "L'acqua della macchina è a {hardness} e {alkalinity}, dopo: {family}.",
    "plane.said.machine-bypass": "L'acqua della macchina è a {hardness} e {alkalinity}, con "
    "{share} di acqua grezza in by-pass.",
    "plane.said.flecks": "Le macchioline si infittiscono dove il calcare precipita in caldaia.",
    "plane.up": "↑ alcalinità, {unit}",
    "plane.across": "durezza totale, {unit} →",
    "plane.raw": "grezza",
    "plane.raw-stays": "grezza, invariata",
    "plane.bed": "solo il letto",
    "plane.flecks": "macchioline: calcare",
    "plane.blended": "miscelata, {share}",
    "plane.treated": "trattata",
}

TEXTS = {**REPORT, **PLANE}
