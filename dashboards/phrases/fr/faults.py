"""French: what each fault is and how to mend it, a text a code of `analytics.diagnosis.faults`."""

from __future__ import annotations

_BY_CODE = {
    "clock-wrong": "Le boîtier de mesure n’est pas à l’heure.",
    "clock-wrong.do": "Vérifiez son réseau et son fuseau horaire\u00a0: il règle son horloge tout "
    "seul dès qu’il a un réseau.",
    "data-gap": "Les capteurs étaient muets.",
    "data-gap.do": "Vérifiez l’alimentation et le câble du boîtier de mesure.",
    "no-reading": "Un capteur ne donne pas de mesure.",
    "no-reading.do": "Vérifiez son câble\u202f; sinon, remplacez-le.",
    "cell-dry": "Une sonde ne lit presque rien\u00a0: elle est à sec ou son câble est débranché.",
    "cell-dry.do": "Vérifiez qu’elle est dans l’eau et que sa fiche est bien enfoncée.",
    "cell-short": "Une sonde lit plus que n’importe quelle eau\u00a0: elle est en court-circuit.",
    "cell-short.do": "Séchez sa fiche et cherchez un câble écrasé\u202f; sinon, remplacez-la.",
    "thermometer": "Le thermomètre d’une sonde donne une valeur impossible.",
    "thermometer.do": "Vérifiez son câble\u202f; sinon, remplacez la sonde.",
    "probe-stuck": "Une sonde affiche toujours la même valeur.",
    "probe-stuck.do": "Coupez puis remettez son alimentation\u202f; sinon, remplacez-la.",
    "probes-exchanged": "Les sondes avant et après la cartouche sont inversées.",
    "probes-exchanged.do": "Échangez leurs câbles ou leurs places.",
    "bubbles": "Des bulles passent sur une sonde\u00a0: sa valeur chute sans cesse pendant que "
    "l’eau coule.",
    "bubbles.do": "Purgez l’air de la ligne et tournez la sonde pour que les bulles remontent et "
    "s’en aillent.",
    "readings-doubted": "Un capteur doute de ses propres mesures.",
    "readings-doubted.do": "Vérifiez son câble et nettoyez-le.",
    "film": "Un film se forme sur une sonde\u00a0: elle lit plus bas de jour en jour.",
    "film.do": "Nettoyez la sonde, puis lisez les deux sondes dans l’eau brute.",
    "flow-meter-stuck": "L’eau coule, mais le débitmètre ne compte pas.",
    "flow-meter-stuck.do": "Vérifiez son câble et si sa turbine tourne\u202f; sinon, remplacez-le.",
    "counter-anew": "Le débitmètre recommence sans cesse à compter de zéro.",
    "counter-anew.do": "Vérifiez son alimentation et son câble.",
    "pulses-lost": "Le débitmètre perd des impulsions\u00a0: chaque puisage compte moins qu’avant.",
    "pulses-lost.do": "Vérifiez son câble et nettoyez sa turbine, puis contrôlez-le au pichet.",
    "pulses-doubled": "Le débitmètre compte double.",
    "pulses-doubled.do": "Vérifiez le blindage du câble et le filtre de l’entrée, puis "
    "contrôlez-le au pichet.",
    "k-factor-off": "Le facteur K du débitmètre ne s’accorde pas avec les litres relevés à la "
    "main.",
    "k-factor-off.do": "Contrôlez-le au pichet et saisissez de nouveau le facteur K.",
    "leak": "De l’eau coule alors que l’établissement est fermé.",
    "leak.do": "Allez voir\u202f; fermez la vanne avant la cartouche si vous ne trouvez pas la "
    "fuite.",
    "no-flow": "Aucune eau ne passe par la cartouche alors que l’établissement est ouvert\u00a0: "
    "une vanne est fermée, le réseau est coupé, ou la machine est remplie sans passer par elle.",
    "no-flow.do": "Tirez une tasse et regardez les vannes.",
    "cartridge-unannounced": "La cartouche semble avoir été changée sans que personne l’ait noté.",
    "cartridge-unannounced.do": "Saisissez le changement et son jour.",
    "bypass-moved": "Le by-pass semble avoir été tourné.",
    "bypass-moved.do": "Vérifiez le réglage sur la tête, puis faites un test à gouttes.",
    "raw-water-changed": "Le réseau livre une autre eau.",
    "raw-water-changed.do": "Faites un test à gouttes de l’eau brute.",
    "calibration": "Un capteur est en cours de contrôle.",
    "calibration.do": "Rien à faire\u00a0: il mesure de nouveau dans l’heure.",
}


TEXTS = {
    "alarm.fault-found": "Quelque chose ne va pas avec les capteurs ou la ligne.",
    "alarm.fault-found.cause": "Les mesures en portent la marque.",
    "alarm.fault-found.consequence": "Le chiffre devient moins sûr.",
    "alarm.fault-found.do": "Vérifiez les capteurs et leurs câbles.",
} | {f"alarm.fault-found.{key}": text for key, text in _BY_CODE.items()}
