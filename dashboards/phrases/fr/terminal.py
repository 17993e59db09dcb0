"""French: what commands say in a terminal - status, logbook, meters, replay, backup."""

from __future__ import annotations

COMMANDS = {
    "status.file": "{path}\u00a0: lignes numérotées jusqu’à {newest}, {used} Mo sur {limit} Mo "
    "avec tout ce qui se trouve à côté.",
    "status.thinned": "Ligne {line}\u00a0: les mesures d’avant le {day} sont gardées en valeurs "
    "par minute.",
    "status.sink": "Destination {sink}\u00a0: confirmé jusqu’à la ligne {row}, encore {waiting} à "
    "envoyer.",
    "status.refused.one": "Une ligne a été refusée et mise de côté\u00a0:",
    "status.refused.many": "{n} lignes ont été refusées et mises de côté\u00a0:",
    "status.reason": "{n} x {reason} (la dernière\u00a0: ligne {row})",
    "status.more.one": "et une autre raison.",
    "status.more.many": "et {n} autres raisons.",
    "status.counted": "Compté, {name}\u00a0: {n}",
    "note.written": "Entrée {n}, signée {who}.",
    "paper.written": "{path}\u00a0: {size} ko",
    "record.copied": "{path}\u00a0: {size} Mo, chaque page vérifiée, lignes jusqu’au numéro "
    "{newest}.",
    "record.aside": "L’enregistrement qui s’y trouvait est maintenant {path}.",
    "record.restored": "{record} est restauré depuis {backup}\u202f; les nouvelles lignes sont "
    "numérotées à partir de {newest}.",
}

METERS = {
    "scan.port": "port {port}",
    "scan.port-now": "port {port} (actuellement {device})",
    "scan.none": "Rien n’est branché sur un port série.",
    "scan.none-mend": "Le câble est-il bien un câble de données\u202f? Nommez un port pour y "
    "chercher quand même\u00a0: meters scan PORT",
    "scan.nothing": "rien ne répond.",
    "scan.asked": "Essayé\u00a0: un nœud, du texte, adresses Modbus {span}. Un appareil d’une "
    "autre adresse ou d’une autre vitesse\u202f?",
    "scan.try": "Essayez\u00a0: --units 1-247, --baud 4800\u202f; échangez A et B\u202f; est-il "
    "sous tension\u202f?",
    "scan.answers": "répond\u00a0: {said}",
    "scan.next": "Ensuite\u00a0: mettez ceci dans le fichier du site, puis\u00a0: lastlitre check "
    "SITE.toml",
    "scan.busy": "Le site tourne et occupe les ports.",
    "scan.next-watch": "Ensuite\u00a0: lastlitre meters watch {path}",
    "scan.meter": "{meter} sur {port}\u00a0: {said}",
    "scan.rows": "lignes reçues\u00a0: {n}",
    "scan.silent": "muet",
    "watch.here": "{site}, capteurs lus ici. Conductivité telle que lue, non ramenée à 25\u202f°C.",
    "watch.file": "{site}, le site tourne\u00a0: lu dans son fichier. Conductivité telle que lue, "
    "non ramenée à 25\u202f°C.",
    "watch.head.time": "heure",
    "watch.head.meter": "capteur",
    "watch.head.outlet": "sortie",
    "watch.head.inlet": "entrée",
    "watch.head.pulses": "impulsions",
    "watch.head.age": "âge",
    "watch.head.rate": "lignes/min",
    "watch.head.quality": "qualité",
    "watch.silent": "n’a rien dit en {seconds}\u202fs\u202f; essayez\u00a0: lastlitre meters scan",
    "watch.good": "bon",
    "watch.old": "ancien",
    "watch.outlet-doubtful": "sortie douteuse",
    "watch.inlet-doubtful": "entrée douteuse",
    "watch.flow-doubtful": "débit douteux",
    "watch.clock-not-set": "horloge non réglée",
    "watch.counter-anew": "compteur reparti de zéro",
    "watch.simulated": "pas un vrai capteur",
}

REPLAY = {
    "replay.line": "{site}, ligne {line}\u00a0: cartouche ({medium})",
    "replay.no-rows": "L’enregistrement n’a pas de ligne utilisable.",
    "replay.rows": "{rows} lignes sur {days} jours (du {first} au {last}), {draws} puisages, "
    "{litres} L par la tête\u202f; lu en {seconds}\u202fs ({rate} lignes/s).",
    "replay.bad-lines.one": "Une ligne n’a pas pu être lue et a été laissée de côté.",
    "replay.bad-lines.many": "{n} lignes n’ont pas pu être lues et ont été laissées de côté.",
    "replay.backwards.one": "Une ligne reculait dans le temps et a été laissée de côté.",
    "replay.backwards.many": "{n} lignes reculaient dans le temps et ont été laissées de côté.",
    "replay.leaps.one": "Une ligne faisait un grand bond en avant dans le temps et a été laissée "
    "de côté.",
    "replay.leaps.many": "{n} lignes faisaient un grand bond en avant dans le temps et ont été "
    "laissées de côté.",
    "replay.cut-short": "Le fichier est tronqué\u202f; ce qui s’y trouvait a été utilisé.",
    "replay.nothing-known": "Pas d’estimation\u00a0: il n’y avait rien de connu à peser.",
    "replay.end": "À la fin, {day}\u00a0:",
    "replay.left": "litres restants avant la fin de la capacité\u00a0: {litres}",
    "replay.days": "jours restants\u00a0: {days}, probablement jusqu’au {day}",
    "replay.hardness.total": "dureté totale vers la machine\u00a0: {hardness}",
    "replay.hardness.carbonate": "dureté carbonatée vers la machine\u00a0: {hardness}",
    "replay.hardness.calcium": "dureté calcique vers la machine\u00a0: {hardness}",
    "replay.rests": "le chiffre repose sur\u00a0: litres {litres}, conductivité {conductivity}, "
    "tests à gouttes {tests}",
    "replay.no-alarm": "Aucune alarme ne s’est déclenchée.",
    "replay.alarms": "Alarmes déclenchées\u00a0: {names}.",
    "replay.none": "aucune",
    "replay.written": "Écrit\u00a0: {estimates}, {alarms}",
}

TEXTS = {**COMMANDS, **METERS, **REPLAY}
