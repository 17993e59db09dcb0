"""French: calibrating meters in a terminal, step by step."""

from __future__ import annotations

TEXTS = {
    "calibrate.begin": "Étalonnage de la ligne {line}, {site}.",
    "calibrate.direct": "Cette commande lit elle-même les capteurs\u202f; ne démarrez pas le site "
    "pendant ce temps.",
    "calibrate.beside": "Le site tourne\u00a0: les mesures viennent de son fichier, il n’y a rien "
    "à arrêter.",
    "calibrate.leave": "Quittez à tout moment par Ctrl-C\u202f; ce qui est fait est gardé un jour.",
    "calibrate.end": "Terminé. Voyez ce que disent les capteurs\u00a0: lastlitre meters watch, "
    "puis lastlitre logbook",
    "calibrate.dry": "Sonde à sec",
    "calibrate.standard": "Étalon KCl",
    "calibrate.cross-zero": "Les deux sondes dans la même eau",
    "calibrate.jugs": "Pichets mesurés",
    "calibrate.done-already": "{title}\u00a0: déjà fait. Refaire",
    "calibrate.dry.do.outlet": "Sortez la sonde de sortie de l’eau et secouez-la jusqu’à ce "
    "qu’elle soit sèche.",
    "calibrate.dry.do.inlet": "Sortez la sonde d’entrée de l’eau et secouez-la jusqu’à ce qu’elle "
    "soit sèche.",
    "calibrate.dry.reads": "lit {found} µS/cm (± {sd})",
    "calibrate.dry.not": "Ce n’est pas sec\u00a0: une goutte entre les électrodes, ou une fuite de "
    "courant dans le câble. Séchez-la et refaites cette étape\u00a0: --step dry",
    "calibrate.standard.care": "L’étalon n’a rien à faire dans l’eau potable\u00a0: rincez bien la "
    "sonde avant de la remettre, et rincez la ligne avant que quelqu’un en boive.",
    "calibrate.standard.label": "Valeur imprimée sur l’étalon, µS/cm à 25\u202f°C",
    "calibrate.standard.do.outlet": "Rincez la sonde de sortie avec de l’étalon, puis plongez-la "
    "dans de l’étalon frais.",
    "calibrate.standard.do.inlet": "Rincez la sonde d’entrée avec de l’étalon, puis plongez-la "
    "dans de l’étalon frais.",
    "calibrate.standard.temp": "Température de l’étalon au thermomètre, °C (la sonde\u00a0: "
    "{found})",
    "calibrate.standard.true": "vrai {true} µS/cm, lu {read}",
    "calibrate.standard.much": "elle lit {off}\u202f% de trop (± {sd}\u202f%)",
    "calibrate.standard.little": "elle lit {off}\u202f% trop peu (± {sd}\u202f%)",
    "calibrate.standard.gain": "gain {gain}\u00a0: sa constante de cellule vaut autant de fois la "
    "constante indiquée",
    "calibrate.standard.far": "C’est loin de 1\u00a0: mauvais étalon, mauvaise constante de "
    "cellule dans le fichier du site, bulle ou saleté dans la cellule. Nettoyez-la et refaites "
    "cette étape.",
    "calibrate.standard.note": "meters calibrate\u00a0: à sec et un étalon KCl",
    "calibrate.zero.both": "Mettez les deux sondes dans un même pichet d’eau brute (ou ouvrez le "
    "by-pass en grand et laissez couler).",
    "calibrate.zero.one": "Amenez de l’eau brute à la sonde de sortie (by-pass ouvert en grand, ou "
    "un pichet).",
    "calibrate.zero.no-temp": "Une sonde ne donne pas de température\u00a0: sans elle, cette étape "
    "ne dit rien.",
    "calibrate.zero.outlet": "sortie {found} µS/cm à 25\u202f°C",
    "calibrate.zero.inlet": "entrée {found} µS/cm à 25\u202f°C",
    "calibrate.zero.apart": "la sonde de sortie lit {apart}\u202f% par rapport à la sonde d’entrée",
    "calibrate.zero.far": "C’est beaucoup\u00a0: sont-elles toutes deux dans la même eau, sans "
    "bulles\u202f?",
    "calibrate.zero.note": "meters calibrate",
    "calibrate.jugs.no-meter": "Cette ligne n’a pas de débitmètre.",
    "calibrate.jugs.ready-full": "Pichet {n} à plein débit\u00a0: ouvrez le robinet en grand. Prêt",
    "calibrate.jugs.ready-brew": "Pichet {n} à débit d’extraction\u00a0: un mince filet, comme en "
    "puise un groupe. Prêt",
    "calibrate.jugs.fill": "Remplissez un pichet maintenant\u202f; appuyez sur Entrée une fois le "
    "robinet fermé.",
    "calibrate.jugs.litres": "Combien de litres contient-il",
    "calibrate.jugs.one": "{n} impulsions\u00a0: {k} impulsions/L, {flow} L/min",
    "calibrate.jugs.no-pulse": "Aucune impulsion n’est venue\u00a0: le débitmètre est-il branché, "
    "l’eau y passe-t-elle\u202f?",
    "calibrate.jugs.full": "plein débit\u00a0: {k} à {flow} L/min",
    "calibrate.jugs.brew": "débit d’extraction\u00a0: {k} à {flow} L/min",
    "calibrate.jugs.both": "pour les deux ensemble\u00a0: {k}",
    "calibrate.jugs.not-thin": "Ce n’était pas un mince filet\u00a0: on ignore encore ce qui se "
    "passe à très faible débit.",
    "calibrate.jugs.full-only": "On ne sait rien d’un mince filet, où les petites turbines "
    "comptent trop peu\u00a0: l’incertitude est élargie\u00a0: {k}",
    "calibrate.jugs.k": "{k} impulsions/L ± {sd}\u202f%",
    "calibrate.jugs.apart": "Ces pichets diffèrent de {apart}\u202f%\u00a0: l’un d’eux est faux.",
    "calibrate.jugs.never": "Ils ne s’accordent jamais\u00a0: tous sont à refaire. La turbine "
    "est-elle encrassée\u202f?",
    "calibrate.jugs.left-out": "{k} impulsions/L est laissé de côté\u202f; tirez un pichet de "
    "plus.",
    "calibrate.jugs.slip": "sous {flow} L/min (± {sd}), la turbine ne tourne plus",
    "calibrate.jugs.silent": "Le compteur ne dit rien. {fault}",
    "calibrate.jugs.note": "meters calibrate\u00a0: {full} pichets à plein débit, {brew} à débit "
    "d’extraction",
    "calibrate.try-again": "Réessayer",
    "calibrate.waiting": "en attente d’une lecture stable ...",
    "calibrate.silent.outlet": "La sonde de sortie ne dit rien. {fault}",
    "calibrate.silent.inlet": "La sonde d’entrée ne dit rien. {fault}",
    "calibrate.moves": "Elle bouge encore après {seconds}\u202fs ({found} µS/cm).",
    "calibrate.take": "La prendre telle quelle",
    "calibrate.try-watch": "Essayez\u00a0: lastlitre meters watch SITE.toml",
    "calibrate.no-number": "{said}\u00a0: un nombre de {low} à {high}, s’il vous plaît.",
    "calibrate.keep": "Garder",
    "calibrate.not-kept": "Non gardé.",
    "calibrate.kept": "Gardé\u00a0: entrée {n} du carnet.",
    "calibrate.enter": "{text} [Entrée]",
}
