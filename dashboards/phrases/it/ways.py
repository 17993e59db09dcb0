"""Italian texts of how rows and messages leave the box."""

from __future__ import annotations

TEXTS = {
    "ways.title": "Dove vanno i dati",
    "ways.rows.starting": "Righe: invio in avvio.",
    "ways.rows.flowing": "Le righe arrivano.",
    "ways.rows.unconfirmed": "Le righe partono, ma nessuno conferma che sono al sicuro.",
    "ways.rows.away": "Le righe non passano; il sistema riprova da solo.",
    "ways.rows.refused": "Le righe vengono rifiutate finché qualcuno non rimedia.",
    "ways.rows.stopped": "Righe: invio fermo.",
    "ways.messages.ready": "I messaggi si possono inviare.",
    "ways.messages.away": "I messaggi non passano; il sistema riprova da solo.",
    "ways.messages.refused": "I messaggi vengono rifiutati finché qualcuno non rimedia.",
    "ways.rows.none": "Nessuna in attesa.",
    "ways.rows.wait": "In attesa: {n}; nulla va perso.",
    "ways.messages.none": "Nessuno in attesa.",
    "ways.messages.wait": "In attesa: {n}.",
    "ways.oldest": "Dato più vecchio: {when}.",
    "ways.worked": "Ultimo invio riuscito: {when}.",
    "ways.never": "Nessun invio riuscito dall'avvio.",
    "ways.fault": "Ultimo errore: {fault}",
    "ways.fault-when": "Ultimo errore ({when}): {fault}",
}
