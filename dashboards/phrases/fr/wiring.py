"""French: the wiring guide."""

from __future__ import annotations

TEXTS = {
    "wiring.title": "Câblage",
    "wiring.title-what": "Comment raccorder sondes, thermomètres et turbines au nœud, avec les "
    "précautions.",
    "wiring.first": "Raccordez les capteurs.",
    "wiring.then": "Une petite carte lit une ou deux sondes de conductivité, un thermomètre à "
    "chacune, et une ou deux turbines, et envoie le tout par un seul câble.",
    "wiring.next": "Lisez les précautions avant d’ouvrir un tuyau ou un boîtier.",
    "wiring.electric": "Électricité",
    "wiring.electric-note": "avant de toucher un fil",
    "wiring.electric.1": "Débranchez la carte, et tout ce qui y est raccordé, avant de toucher un "
    "fil.",
    "wiring.electric.2": "En zone humide, uniquement de la très basse tension\u00a0: 5\u202fV au "
    "plus, d’une alimentation à double isolation (très basse tension de sécurité, TBTS). Rien ici "
    "n’ouvre ni ne raccorde un fil du secteur\u00a0: c’est le travail d’un électricien.",
    "wiring.electric.3": "La carte et chaque raccord se trouvent au sec dans un boîtier fermé, "
    "plus haut que le tuyau. Chaque câble forme une boucle vers le bas avant d’entrer, pour que "
    "les gouttes tombent.",
    "wiring.electric.4": "Le châssis de la machine est à la terre et l’eau le touche. Alimentez la "
    "carte de sorte qu’aucun courant ne puisse passer de la terre par l’eau jusqu’à une "
    "sonde\u00a0: une alimentation sans contact de terre, et un isolateur dans le câble USB si "
    "l’ordinateur est à la terre. Un courant venu d’ailleurs fausse la mesure\u202f; l’autotest le "
    "signale.",
    "wiring.food": "Eau potable",
    "wiring.food-note": "avant d’ouvrir un tuyau",
    "wiring.food.1": "L’eau de la machine est un aliment. Toute pièce mouillée doit être fabriquée "
    "et agréée pour l’eau potable là où vous êtes (dans l’Union européenne\u00a0: directive (UE) "
    "2020/2184, article 11\u202f; en Amérique du Nord\u00a0: NSF/ANSI/CAN 61).",
    "wiring.food.2": "Électrodes en acier inoxydable 1.4404 (316L) ou en graphite. Ni soudure à "
    "l’étain, ni flux, ni électrode en laiton, ni colle dans l’eau.",
    "wiring.food.3": "Les thermomètres restent hors de l’eau\u00a0: dans un doigt de gant, ou "
    "fixés sur le tuyau sous un isolant.",
    "wiring.food.4": "Pression du réseau, protection contre les retours d’eau et raccords sur une "
    "conduite d’eau potable\u00a0: règles locales et plombier qualifié. Mains propres et pièces "
    "propres\u202f; rincez dix litres à l’égout avant que la machine reçoive de nouveau de l’eau.",
    "wiring.places": "Placement",
    "wiring.places-note": "où va chaque pièce",
    "wiring.places-drawn": "De gauche à droite\u00a0: vanne d’arrêt, turbine, sonde d’entrée, tête "
    "de filtre avec son by-pass, sonde de sortie, machine. Au-dessus, au sec, la carte dans son "
    "boîtier.",
    "wiring.dry": "zone sèche",
    "wiring.wet": "zone humide",
    "wiring.board": "carte",
    "wiring.to-host": "vers l’ordinateur",
    "wiring.place.1": "vanne d’arrêt",
    "wiring.place.2": "turbine, avant la tête, sa flèche dans le sens de l’eau\u00a0: elle compte "
    "toute l’eau, celle du by-pass aussi",
    "wiring.place.3": "sonde d’entrée et thermomètre (facultatifs\u00a0: mettez alors probes à 1)",
    "wiring.place.4": "tête de filtre et cartouche",
    "wiring.place.5": "sonde de sortie et thermomètre, après le by-pass, là où l’eau monte le long "
    "des électrodes pour que les bulles s’en aillent",
    "wiring.place.6": "machine",
    "wiring.two-probes": "Deux sondes dans un même tuyau voient le courant l’une de l’autre. La "
    "carte les lit tour à tour et libère toutes les broches de l’une pendant qu’elle excite "
    "l’autre. Deux instruments qui excitent sans arrêt doivent être isolés l’un de l’autre, chacun "
    "avec sa propre alimentation.",
    "wiring.probe": "Une sonde",
    "wiring.probe-note": "dessinée\u00a0: la sonde de sortie",
    "wiring.probe-drawn": "Trois broches vont, chacune par une résistance, à un même point. Ce "
    "point va à la broche ADC et à une électrode. L’autre électrode va à une quatrième broche.",
    "wiring.probe.1": "Deux électrodes nues avec une constante de cellule d’environ 1 par cm, et "
    "trois résistances à 1\u202f%. La carte excite la sonde aussi longtemps dans un sens que dans "
    "l’autre, pour qu’aucune charge ne reste sur les électrodes, et prend la résistance qui "
    "convient à l’eau.",
    "wiring.probe.2": "Câble à deux conducteurs et blindage, trois mètres au plus\u202f; le "
    "blindage à la masse du côté de la carte seulement.",
    "wiring.probe.3": "La constante de cellule propre à la sonde se saisit dans LastLitre, pas sur "
    "la carte.",
    "wiring.rest": "Les autres",
    "wiring.rest-note": "thermomètres et turbines",
    "wiring.rest-drawn": "Un thermomètre à un fil sur alimentation, données et masse, avec une "
    "résistance entre données et alimentation. Une turbine sur alimentation, impulsion et masse.",
    "wiring.cell": "cellule",
    "wiring.thermometer": "thermomètre",
    "wiring.turbine": "turbine",
    "wiring.rest.1": "Thermomètres numériques à un fil, 12 bits, chacun sur sa propre "
    "broche\u00a0: un câble coupé n’en fait taire qu’un, et aucun ne peut être pris pour l’autre.",
    "wiring.rest.2": "Turbines à sortie à collecteur ouvert\u202f; la carte fournit la résistance "
    "de rappel. Une sortie qui donne 5\u202fV demande un diviseur (10 et 20 kiloohms)\u00a0: les "
    "broches supportent 3,3\u202fV.",
    "wiring.rest.3": "Les impulsions par litre se mesurent au pichet et se saisissent dans "
    "LastLitre.",
    "wiring.pins": "Broches",
    "wiring.pins-note": "telles que livrées\u202f; à changer dans settings.py",
    "wiring.pin.outlet": "sonde de sortie\u00a0: résistances, électrode opposée, ADC",
    "wiring.pin.inlet": "sonde d’entrée\u00a0: résistances, électrode opposée, ADC",
    "wiring.pin.ohms": "résistances, dans l’ordre de leurs broches",
    "wiring.pin.thermometers": "thermomètres\u00a0: sortie, entrée",
    "wiring.pin.turbine": "turbine (une seconde\u00a0: une broche libre)",
    "wiring.pin.stop": "à relier à la masse au démarrage pour atteindre la carte par un terminal",
    "wiring.program": "Programme",
    "wiring.program.1": "lastlitre firmware FOLDER écrit le programme de la carte dans un dossier, "
    "avec un texte qui explique comment le copier sur la carte.",
    "wiring.program.2": "Le programme livré est essayé sur des pièces virtuelles et dans un "
    "véritable interpréteur\u202f; aucun test ne peut essayer vos soudures. Faites l’étalonnage "
    "avant de vous fier à un chiffre.",
    "wiring.supply": "3,3\u202fV",
    "wiring.pull-up": "4,7\u202fkΩ",
}
