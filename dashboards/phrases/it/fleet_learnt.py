"""Texts of the service company's page of what cartridges really deliver, in Italian."""

from __future__ import annotations

TEXTS = {
    "fleet.learnt": "Resa effettiva",
    "fleet.learnt-what": "Quanto rendono davvero le cartucce di ogni tipo in ogni regione; per i "
    "file delle nuove sedi.",
    "learnt.json": "Tutto (JSON)",
    "learnt.none": "Nessuna cartuccia ha ancora mostrato quanto rende davvero: le nuove sedi "
    "partono dalla capacità nominale.",
    "learnt.sentence.one": "Una cartuccia mostra quanto si rende davvero.",
    "learnt.sentence.many": "{n} cartucce mostrano quanto rendono davvero.",
    "learnt.left-out.one": "Un’altra non dice nulla che non fosse già noto.",
    "learnt.left-out.many": "Altre {n} non dicono nulla che non fosse già noto.",
    "learnt.head.rated": "Nominale",
    "learnt.head.share": "Ne rende",
    "learnt.head.counts": "Cartucce",
    "learnt.counts": "{n}: {ended} fino alla fine, {early} tolte prima",
    "learnt.new-region": "ogni nuova regione",
    "learnt.head.lines": "Nuova sede",
    "learnt.lines": "Le sue righe",
    "learnt.note": "Un tipo con poche cartucce viene avvicinato a ciò che mostrano tutte. «Ogni "
    "nuova regione» è una in cui nessuna ha ancora servito. Alle sedi non si invia nulla: mettere "
    "le due righe sotto [[line]] nel file di una nuova sede, e le sue cifre partono da lì.",
}
