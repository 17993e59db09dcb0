"""Texts of the service company's page of what cartridges really deliver, in German."""

from __future__ import annotations

TEXTS = {
    "fleet.learnt": "Wirklich geliefert",
    "fleet.learnt-what": "Was Kartuschen jeder Art in jeder Region wirklich liefern; für die "
    "Dateien neuer Standorte.",
    "learnt.json": "Alles (JSON)",
    "learnt.none": "Noch hat keine Kartusche gezeigt, was sie wirklich liefert: Neue Standorte "
    "beginnen mit der Nennkapazität.",
    "learnt.sentence.one": "Eine Kartusche zeigt, was wirklich geliefert wird.",
    "learnt.sentence.many": "{n} Kartuschen zeigen, was wirklich geliefert wird.",
    "learnt.left-out.one": "Eine weitere sagt nichts, was nicht schon bekannt war.",
    "learnt.left-out.many": "{n} weitere sagen nichts, was nicht schon bekannt war.",
    "learnt.head.rated": "Nennkapazität",
    "learnt.head.share": "Davon geliefert",
    "learnt.head.counts": "Kartuschen",
    "learnt.counts": "{n}: {ended} bis zum Ende, {early} vorher entnommen",
    "learnt.new-region": "jede neue Region",
    "learnt.head.lines": "Neuer Standort",
    "learnt.lines": "Seine Zeilen",
    "learnt.note": "Arten mit wenigen Kartuschen werden zu dem hin gezogen, was alle zeigen. "
    "„Jede neue Region“ ist eine, in der noch keine gedient hat. An Standorte wird nichts "
    "gesendet: Setzen Sie die beiden Zeilen unter [[line]] in die Datei eines neuen, und seine "
    "Zahlen beginnen damit.",
}
