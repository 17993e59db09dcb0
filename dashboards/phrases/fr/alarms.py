"""French: what each alarm means and what to do, in a barista's words.

A rule NAME has `alarm.NAME` (what it says), `.cause`, `.consequence` and `.do`; where there are
variants `alarm.NAME.VARIANT` says it instead; `.figures` follows where the figures are known.
"""

from __future__ import annotations

from dashboards.phrases.both_probes import probe_alarms

HARDNESS = {
    "alarm.outlet-hardness-high": "La machine reçoit de l’eau dure.",
    "alarm.outlet-hardness-high.figures": "Environ {outlet}\u202f; il faudrait au plus {limit}.",
    "alarm.outlet-hardness-high.cause": "La cartouche est épuisée, le by-pass est trop ouvert, ou "
    "l’eau du réseau est devenue plus dure.",
    "alarm.outlet-hardness-high.consequence": "Le tartre commence à se former dans la machine.",
    "alarm.outlet-hardness-high.do": "Faites un test à gouttes de l’eau de la machine. Si elle est "
    "dure aussi au test, changez la cartouche.",
    "alarm.breakthrough": "La cartouche est épuisée.",
    "alarm.breakthrough.figures": "C’est sûr à {chance}.",
    "alarm.breakthrough.cause": "Elle a retenu tout ce qu’elle peut retenir.",
    "alarm.breakthrough.consequence": "La machine reçoit chaque jour une eau plus dure et commence "
    "à s’entartrer.",
    "alarm.breakthrough.do": "Faites un test à gouttes de l’eau de la machine, et changez la "
    "cartouche.",
    "alarm.capacity-low": "La cartouche arrive à sa fin\u00a0: prévoyez le changement.",
    "alarm.capacity-low.figures": "Reste\u00a0: environ {left}, {days} jours.",
    "alarm.capacity-low.cause": "Elle a retenu presque tout ce qu’elle peut retenir.",
    "alarm.capacity-low.consequence": "Dans quelques semaines au plus, l’eau deviendra dure.",
    "alarm.capacity-low.do": "Gardez la prochaine cartouche à portée de main et fixez le jour du "
    "changement.",
    "alarm.change-now": "Changez la cartouche maintenant.",
    "alarm.change-now.figures": "Reste\u00a0: environ {left}, {days} jours.",
    "alarm.change-now.cause": "Il n’en reste presque rien.",
    "alarm.change-now.consequence": "Dans quelques jours au plus, l’eau deviendra dure.",
    "alarm.change-now.do": "Changez la cartouche aujourd’hui ou demain, ou appelez la société "
    "d’entretien.",
    "alarm.time-limit-near": "La cartouche approche de sa limite d’âge.",
    "alarm.time-limit-near.figures": "Jours avant sa limite\u00a0: {days}.",
    "alarm.time-limit-near.cause": "Une cartouche se change au bout de ses mois, même si elle a "
    "peu servi.",
    "alarm.time-limit-near.consequence": "Des germes peuvent se développer dans une vieille "
    "cartouche.",
    "alarm.time-limit-near.do": "Gardez la prochaine cartouche à portée de main et fixez le jour "
    "du changement.",
    "alarm.time-limit": "La cartouche est en place depuis trop longtemps.",
    "alarm.time-limit.figures": "Jours de dépassement\u00a0: {days}.",
    "alarm.time-limit.cause": "Ses mois sont écoulés, même si elle a peu servi.",
    "alarm.time-limit.consequence": "Des germes peuvent se développer dans une vieille cartouche.",
    "alarm.time-limit.do": "Changez la cartouche.",
    "alarm.carbon-spent": "Le charbon de la cartouche est épuisé.",
    "alarm.carbon-spent.cause": "Il a vu passer les litres pour lesquels il est fait.",
    "alarm.carbon-spent.consequence": "Le chlore et le goût de l’eau du réseau passent à travers.",
    "alarm.carbon-spent.do": "Changez la cartouche.",
}

WATER = {
    "alarm.raw-water-changed": "Le réseau livre une autre eau.",
    "alarm.raw-water-changed.together": "Le réseau livre une autre eau\u00a0: avant et après la "
    "cartouche, elle a changé en quelques heures.",
    "alarm.raw-water-changed.outlet-alone": "Le réseau livre probablement une autre eau\u00a0: "
    "après la cartouche, elle a changé trop vite pour une cartouche épuisée.",
    "alarm.raw-water-changed.figures": "L’eau brute est à environ {raw}.",
    "alarm.raw-water-changed.cause": "Le distributeur d’eau a changé de source, ou une vanne a été "
    "tournée.",
    "alarm.raw-water-changed.consequence": "La cartouche tient pour plus ou moins de litres, et le "
    "by-pass peut ne plus convenir.",
    "alarm.raw-water-changed.do": "Faites un test à gouttes de l’eau brute et un de l’eau de la "
    "machine\u202f; vérifiez le by-pass.",
    "alarm.bypass-off": "Le by-pass n’agit pas comme il est réglé.",
    "alarm.bypass-off.figures": "Réglé à {set}, il agit comme à {bypass}.",
    "alarm.bypass-off.cause": "Quelqu’un l’a tourné, il a été mal réglé, ou il est grippé.",
    "alarm.bypass-off.consequence": "La machine reçoit une eau plus dure ou moins minéralisée que "
    "prévu, et la cartouche dure plus ou moins longtemps.",
    "alarm.bypass-off.do": "Vérifiez le réglage sur la tête, puis faites un test à gouttes de "
    "l’eau de la machine.",
    "alarm.water-hard": "L’eau de la machine est plus dure que ne le veut le profil.",
    "alarm.water-hard.figures": "Environ {hardness}\u202f; il faudrait au plus {limit}.",
    "alarm.water-hard.cause": "Le by-pass est trop ouvert, ou la cartouche arrive à sa fin.",
    "alarm.water-hard.consequence": "La tasse est plate et du tartre peut se former.",
    "alarm.water-hard.do": "Faites un test à gouttes de l’eau de la machine\u202f; fermez un peu "
    "le by-pass.",
    "alarm.water-thin": "L’eau de la machine est trop douce.",
    "alarm.water-thin.figures": "Environ {hardness}\u202f; il faudrait au moins {limit}.",
    "alarm.water-thin.cause": "Le by-pass est trop fermé, ou l’eau du réseau est devenue plus "
    "douce.",
    "alarm.water-thin.consequence": "La tasse est maigre et acide.",
    "alarm.water-thin.do": "Faites un test à gouttes de l’eau de la machine\u202f; ouvrez un peu "
    "le by-pass.",
    "alarm.water-scaling": "L’eau de la machine entartre la chaudière.",
    "alarm.water-scaling.figures": "Indice de saturation {si} à 95\u202f°C.",
    "alarm.water-scaling.cause": "Elle contient plus de calcaire que l’eau chaude n’en peut "
    "garder.",
    "alarm.water-scaling.consequence": "Le tartre se forme là où l’eau est la plus chaude.",
    "alarm.water-scaling.do": "Faites un test à gouttes de la dureté et de l’alcalinité\u202f; "
    "fermez un peu le by-pass, ou demandez une autre cartouche à la société d’entretien.",
    "alarm.water-corrosive": "L’eau de la machine peut attaquer le métal.",
    "alarm.water-corrosive.figures": "Alcalinité environ {alkalinity}, pH environ {ph}.",
    "alarm.water-corrosive.cause": "Elle a trop peu d’alcalinité\u00a0: le by-pass est trop fermé, "
    "ou l’eau du réseau est devenue plus douce.",
    "alarm.water-corrosive.consequence": "Chaudières et tuyaux se corrodent\u202f; du plomb, du "
    "cuivre et du nickel peuvent passer dans la tasse.",
    "alarm.water-corrosive.do": "Faites un test à gouttes de l’alcalinité\u202f; ouvrez un peu le "
    "by-pass.",
    "alarm.cold-water-warm": "L’eau froide est trop chaude.",
    "alarm.cold-water-warm.figures": "{temp}\u202f; il faudrait au plus {limit_temp}.",
    "alarm.cold-water-warm.cause": "Le tuyau passe à côté d’une source de chaleur, ou de l’eau "
    "chaude y reflue.",
    "alarm.cold-water-warm.consequence": "Des germes se développent dans l’eau au-dessus de "
    "25\u202f°C.",
    "alarm.cold-water-warm.do": "Laissez couler jusqu’à ce qu’elle soit froide. Si elle reste "
    "chaude, appelez un plombier.",
    "alarm.water-stood": "L’eau a stagné trop longtemps.",
    "alarm.water-stood.figures": "Pendant {hours} heures\u202f; rincez avec {flush}.",
    "alarm.water-stood.cause": "Rien n’a été puisé pendant des jours.",
    "alarm.water-stood.consequence": "Germes et métaux s’accumulent dans l’eau stagnante.",
    "alarm.water-stood.do": "Laissez couler l’eau à l’égout avant d’en servir.",
}

FLOW = {
    "alarm.leak": "De l’eau coule alors que l’établissement est fermé.",
    "alarm.leak.figures": "{litres} dans la dernière heure.",
    "alarm.leak.cause": "Un tuyau, une vanne ou la machine fuit, ou un robinet est resté ouvert.",
    "alarm.leak.consequence": "Dégât des eaux, et la cartouche s’épuise pour rien.",
    "alarm.leak.do": "Allez voir. Fermez la vanne avant la cartouche si vous ne trouvez pas la "
    "fuite.",
    "alarm.no-flow": "Aucune eau n’a coulé depuis des heures, alors que l’établissement est "
    "ouvert.",
    "alarm.no-flow.figures": "Rien pendant {hours} heures d’ouverture.",
    "alarm.no-flow.cause": "Une vanne est fermée, le réseau est coupé, ou la machine est remplie "
    "sans passer par la cartouche. Ou bien l’établissement est fermé et personne ne l’a dit.",
    "alarm.no-flow.consequence": "La machine peut tourner à sec, ou recevoir une eau non traitée.",
    "alarm.no-flow.do": "Tirez une tasse. Si aucun litre n’est compté, regardez les vannes et le "
    "débitmètre. Si l’établissement est fermé, saisissez la fermeture.",
    "alarm.flow-above-rating": "L’eau est puisée trop vite pour la cartouche.",
    "alarm.flow-above-rating.figures": "Jusqu’à {flow}\u202f; elle est faite pour {limit_flow}.",
    "alarm.flow-above-rating.cause": "Plus de machines puisent en même temps que la cartouche ne "
    "le permet, ou une vanne de remplissage est trop ouverte.",
    "alarm.flow-above-rating.consequence": "Un peu de dureté passe à travers la cartouche.",
    "alarm.flow-above-rating.do": "Réduisez le remplissage, ou demandez une cartouche plus grande.",
}

_PROBE_CASES = {
    "failure-no-reading": "La {meter} ne donne pas de mesure.",
    "failure-dry": "La {meter} est à sec ou son câble est débranché.",
    "failure-short": "La {meter} est en court-circuit.",
    "failure-no-temp": "Le thermomètre de la {meter} est cassé.",
    "failure-stuck": "La {meter} affiche toujours la même valeur.",
    "out-of-specification-swapped": "Les sondes avant et après la cartouche semblent inversées.",
    "out-of-specification-doubtful": "La {meter} doute de ses propres mesures.",
    "out-of-specification-warm": "L’eau à la {meter} est plus chaude que ce pour quoi elle est "
    "faite.",
    "maintenance-required-clean": "La {meter} lit autre chose qu’avant, alors que l’eau n’a pas "
    "changé : elle demande un nettoyage.",
}

_PROBE_TOLD = {
    "failure": "La {meter} est en panne.",
    "failure.cause": "La sonde est à sec ou cassée, ou son câble est débranché.",
    "failure.consequence": "Le chiffre repose sur les seuls litres et tests à gouttes.",
    "failure.do": "Vérifiez son câble et si elle est dans l’eau ; sinon, remplacez-la.",
    "care": "La {meter} demande un entretien.",
    "care.cause": "Elle est sale, mal placée, ou travaille hors de son domaine.",
    "care.consequence": "Le chiffre devient moins sûr.",
    "care.do": "Regardez la sonde ; nettoyez-la et vérifiez-la dans une solution étalon.",
}

METERS = {
    **probe_alarms(
        "sonde après la cartouche", "sonde avant la cartouche", _PROBE_CASES, _PROBE_TOLD
    ),
    "alarm.flow-meter-failure": "Le débitmètre est en panne.",
    "alarm.flow-meter-failure.failure-no-reading": "Le débitmètre ne compte plus.",
    "alarm.flow-meter-failure.cause": "Il est cassé, ou son câble est débranché.",
    "alarm.flow-meter-failure.consequence": "Les litres ne sont pas comptés ; le chiffre devient "
    "moins sûr.",
    "alarm.flow-meter-failure.do": "Vérifiez son câble ; sinon, remplacez-le.",
    "alarm.flow-meter-care": "Le débitmètre demande un entretien.",
    "alarm.flow-meter-care.out-of-specification-doubtful": "Le débitmètre doute de son propre "
    "compte.",
    "alarm.flow-meter-care.maintenance-required-resets": "Le débitmètre recommence sans cesse à "
    "compter de zéro.",
    "alarm.flow-meter-care.cause": "Son alimentation ou son câble se débranche par moments.",
    "alarm.flow-meter-care.consequence": "Des litres peuvent échapper au compte.",
    "alarm.flow-meter-care.do": "Vérifiez son alimentation et son câble.",
}

BOX = {
    "alarm.data-gap": "Les capteurs sont muets.",
    "alarm.data-gap.figures": "Aucune mesure depuis plus de {minutes} minutes.",
    "alarm.data-gap.cause": "Le boîtier de mesure n’a plus de courant, ou son câble est débranché.",
    "alarm.data-gap.consequence": "Le chiffre vieillit, et rien de ce qui va mal n’est vu.",
    "alarm.data-gap.do": "Vérifiez l’alimentation et le câble du boîtier de mesure.",
    "alarm.clock-unsure": "Le boîtier ne sait pas quelle heure il est.",
    "alarm.clock-unsure.cause": "Il a démarré sans réseau et n’a pas d’horloge à lui.",
    "alarm.clock-unsure.consequence": "Les mesures attendent leur date\u202f; le chiffre n’avance "
    "plus.",
    "alarm.clock-unsure.do": "Vérifiez le réseau du boîtier.",
    "alarm.disk-low": "Le boîtier n’a plus beaucoup de place pour écrire.",
    "alarm.disk-low.full": "Le boîtier n’a plus de place pour écrire.",
    "alarm.disk-low.figures": "Reste\u00a0: {free}.",
    "alarm.disk-low.cause": "Sa carte est trop petite, ou autre chose la remplit.",
    "alarm.disk-low.consequence": "Les mesures sont gardées moins souvent, et à la fin plus du "
    "tout.",
    "alarm.disk-low.do": "Faites de la place, ou mettez une carte plus grande.",
    "alarm.record-damaged": "L’enregistrement était endommagé et a été réparé.",
    "alarm.record-damaged.cause": "La carte ou le disque lâche, ou le courant a manqué pendant "
    "l’écriture.",
    "alarm.record-damaged.consequence": "Un peu de l’enregistrement peut être perdu\u202f; le "
    "fichier endommagé est gardé à côté. Un disque qui lâche une fois lâchera de nouveau.",
    "alarm.record-damaged.do": "Faites une sauvegarde maintenant, et faites remplacer la carte ou "
    "le disque.",
    "alarm.sink-behind": "L’enregistrement n’est pas envoyé.",
    "alarm.sink-behind.figures": "Rien n’est passé depuis {hours} heures.",
    "alarm.sink-behind.cause": "Le réseau est en panne, ou le destinataire ne répond pas.",
    "alarm.sink-behind.consequence": "Rien n’est perdu\u00a0: tout est gardé ici et envoyé plus "
    "tard. Qui surveille à distance voit un état ancien.",
    "alarm.sink-behind.do": "Vérifiez le réseau\u202f; prévenez la société d’entretien si cela "
    "dure.",
}

NOTICES = {
    "within.hour": "dans l’heure",
    "within.hours": "d’ici {n} heures",
    "within.day": "d’ici un jour",
    "within.days": "d’ici {n} jours",
    "notice.raised": "{site}\u00a0: {title}",
    "notice.raised-line": "{site}, {line}\u00a0: {title}",
    "notice.again": "Toujours le cas\u00a0: {title}",
    "notice.escalated": "Personne n’a réagi\u00a0: {title}",
    "notice.cleared": "Ce n’est plus le cas\u00a0: {title}",
    "notice.several": "{site}\u00a0: {n} messages",
    "notice.digest": "{site}\u00a0: l’état le {day} à {clock}",
    "notice.digest-none": "Aucune alarme active.",
    "notice.digest-new": "Nombre de nouvelles alarmes depuis un jour\u00a0: {n}.",
    "notice.since": "Depuis {moment}.",
    "notice.do": "Que faire, {within}\u00a0: {do}",
    "notice.why": "Cause probable\u00a0: {cause} Ce qui en découle\u00a0: {consequence}",
    "notice.priority": "Priorité\u00a0: {priority}.",
    "notice.seen": "Acquittée.",
    "notice.not-seen": "Non acquittée.",
}

TEXTS = {**HARDNESS, **WATER, **FLOW, **METERS, **BOX, **NOTICES}
