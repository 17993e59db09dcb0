"""Texts of the service company's page of what cartridges really deliver, in French."""

from __future__ import annotations

TEXTS = {
    "fleet.learnt": "Rendement réel",
    "fleet.learnt-what": "Ce que les cartouches de chaque sorte donnent vraiment dans chaque "
    "région\u202f; pour les fichiers des nouveaux sites.",
    "learnt.json": "Tout (JSON)",
    "learnt.none": "Aucune cartouche n’a encore montré ce qu’elle donne vraiment\u00a0: les "
    "nouveaux sites partent de la capacité nominale.",
    "learnt.sentence.one": "Une cartouche montre ce qui est vraiment donné.",
    "learnt.sentence.many": "{n} cartouches montrent ce qui est vraiment donné.",
    "learnt.left-out.one": "Une autre ne dit rien qui ne soit déjà connu.",
    "learnt.left-out.many": "{n} autres ne disent rien qui ne soit déjà connu.",
    "learnt.head.rated": "Nominale",
    "learnt.head.share": "En donne",
    "learnt.head.counts": "Cartouches",
    "learnt.counts": "{n}\u00a0: {ended} jusqu’au bout, {early} retirées avant",
    "learnt.new-region": "toute nouvelle région",
    "learnt.head.lines": "Nouveau site",
    "learnt.lines": "Ses lignes",
    "learnt.note": "Une sorte qui compte peu de cartouches est rapprochée de ce que toutes "
    "montrent. «\u202fToute nouvelle région\u202f» en est une où aucune n’a encore servi. Rien "
    "n’est envoyé aux sites\u00a0: mettez les deux lignes sous [[line]] dans le fichier d’un "
    "nouveau site, et ses chiffres partent de là.",
}
