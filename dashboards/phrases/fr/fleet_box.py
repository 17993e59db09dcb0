"""Texts of the service company's pages about the box of a site, in French."""

from __future__ import annotations

TEXTS = {
    "box.title": "Boîtier et accès",
    "box.code": "Le code par lequel son boîtier s’inscrit\u202f; il ne sera plus affiché\u00a0:",
    "box.code-then": "Il sert une fois. Sur le boîtier\u00a0:",
    "box.give": "Remettre un code",
    "box.give-what": "Avec lui, un boîtier s’inscrit comme ce site. Celui qui parlait pour le "
    "site jusque-là est coupé.",
    "box.joined": "Depuis le {day}, un boîtier parle pour lui, par l’accès {login}.",
    "box.waits": "Un code attend d’être utilisé\u202f; échéance\u00a0: {moment}.",
    "box.none": "Aucun boîtier ne s’est inscrit par un code.",
    "box.revoke": "Révoquer son accès",
    "box.revoke-what": "Son boîtier est aussitôt coupé du broker, et un code en attente ne sert "
    "plus. Le boîtier continue de mesurer.",
    "box.claimed": "Un autre boîtier parle sous son nom (depuis\u00a0: {moment}). Un seul est "
    "écouté.",
    "box.take": "Prendre le nouveau",
    "box.take-what": "Le boîtier {box} est écouté dès maintenant, et son enregistrement "
    "recommence\u202f; ce qu’a envoyé l’ancien reste.",
    "box.keep": "Garder l’ancien",
    "box.keep-what": "Le boîtier {box} reste celui qu’on écoute. Si l’autre parle à nouveau, la "
    "question revient.",
    "audit.act.site.code-withdrawn": "code d’inscription retiré",
    "audit.act.site.box-taken": "nouveau boîtier pris",
    "audit.act.site.box-kept": "ancien boîtier gardé",
    "fleet.fault.broker": "Le broker n’obéit pas en ce moment\u00a0: l’accès sert peut-être "
    "encore. Réessayez.",
    "fleet.fault.box": "Ce boîtier ne dit plus être ce site.",
    "fleet.fault.no-joining": "Cette flotte ne remet pas de codes\u00a0: son fichier n’a pas de "
    "table [sites].",
}
