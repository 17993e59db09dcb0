"""French texts of how rows and messages leave the box."""

from __future__ import annotations

TEXTS = {
    "ways.title": "Où partent les données",
    "ways.rows.starting": "Mesures\u00a0: l’envoi démarre.",
    "ways.rows.flowing": "Les mesures arrivent.",
    "ways.rows.unconfirmed": "Les mesures partent, mais personne ne confirme qu’elles sont à "
    "l’abri.",
    "ways.rows.away": "Les mesures ne passent pas\u202f; un nouvel essai se fait tout seul.",
    "ways.rows.refused": "Les mesures sont refusées tant que personne ne corrige la cause.",
    "ways.rows.stopped": "Mesures\u00a0: l’envoi s’est arrêté.",
    "ways.messages.ready": "Les messages peuvent partir.",
    "ways.messages.away": "Les messages ne passent pas\u202f; un nouvel essai se fait tout seul.",
    "ways.messages.refused": "Les messages sont refusés tant que personne ne corrige la cause.",
    "ways.rows.none": "Aucune en attente.",
    "ways.rows.wait": "En attente\u00a0: {n}\u202f; rien n’est perdu.",
    "ways.messages.none": "Aucun en attente.",
    "ways.messages.wait": "En attente\u00a0: {n}.",
    "ways.oldest": "Le plus ancien envoi en attente\u00a0: {when}.",
    "ways.worked": "Dernier envoi réussi\u00a0: {when}.",
    "ways.never": "Aucun envoi réussi depuis le démarrage.",
    "ways.fault": "Dernière erreur\u00a0: {fault}",
    "ways.fault-when": "Dernière erreur ({when})\u00a0: {fault}",
}
