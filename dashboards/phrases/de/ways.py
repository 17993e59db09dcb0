"""German: the ways out of the box - where rows and messages go."""

from __future__ import annotations

TEXTS = {
    "ways.title": "Wohin es geht",
    "ways.worked": "Zuletzt angekommen: {when}.",
    "ways.never": "Seit dem Start kam noch nichts an.",
    "ways.oldest": "Das Älteste: {when}.",
    "ways.fault-when": "Letzter Fehler ({when}): {fault}",
    "ways.fault": "Letzter Fehler: {fault}",
    "ways.rows.flowing": "Zeilen kommen an.",
    "ways.rows.unconfirmed": "Zeilen gehen hinaus, und niemand bestätigt, dass sie sicher sind.",
    "ways.rows.away": "Zeilen kommen nicht durch; es wird von selbst wieder versucht.",
    "ways.rows.refused": "Zeilen werden abgelehnt, bis jemand etwas in Ordnung bringt.",
    "ways.rows.starting": "Zeilen: Es geht gerade los.",
    "ways.rows.stopped": "Zeilen: Es steht still.",
    "ways.rows.none": "Keine warten.",
    "ways.rows.wait": "Wartend: {n}; nichts geht verloren.",
    "ways.messages.ready": "Meldungen können gesendet werden.",
    "ways.messages.away": "Meldungen kommen nicht durch; es wird von selbst wieder versucht.",
    "ways.messages.refused": "Meldungen werden abgelehnt, bis jemand etwas in Ordnung bringt.",
    "ways.messages.none": "Keine warten.",
    "ways.messages.wait": "Wartend: {n}.",
}
