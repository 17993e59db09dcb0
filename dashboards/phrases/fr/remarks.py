"""French: what a person should know of a figure, a text a code of `analytics.remarks`."""

from __future__ import annotations

TEXTS = {
    "remark.raw-water-unknown": "On ne sait encore rien de l’eau brute\u00a0: faites-en un test à "
    "gouttes.",
    "remark.start-unknown": "Personne n’a saisi combien de litres étaient déjà passés par cette "
    "cartouche\u00a0: le calcul part d’une part quelconque de sa durée de vie.",
    "remark.no-capacity": "Le fichier du site n’indique pas de capacité\u00a0: les litres restants "
    "ne peuvent pas être calculés.",
    "remark.cartridge-unannounced": "Vers le {day}, la cartouche semble avoir été changée sans que "
    "personne l’ait noté. L’ancienne est close\u202f; saisissez le changement pour en être sûr.",
    "remark.probes-exchanged": "Les sondes avant et après le filtre sont inversées depuis le "
    "{day}. Elles sont lues à l’envers jusqu’à leur remise en place.",
    "remark.drop-test-doubted": "Le test à gouttes du {day} ({what}) dit {told}, on attendait "
    "{range}. Il est probablement faux, mais les deux restent possibles\u00a0: la plage est plus "
    "large. Refaites un test.",
    "remark.k-factor-off": "Le débitmètre compte {factor} fois ce qui coule\u00a0: saisissez de "
    "nouveau son facteur K.",
    "remark.outlet-film": "Un film semble se former sur la sonde après le filtre\u00a0: "
    "nettoyez-la, puis lisez les deux sondes dans l’eau brute.",
    "remark.inlet-film": "Un film semble se former sur la sonde avant le filtre\u00a0: elle lit "
    "trop bas. Nettoyez-la, puis lisez les deux sondes dans l’eau brute.",
    "remark.gap-running": "Aucune mesure depuis {moment}. Les litres habituels sont ajoutés "
    "jusqu’à leur retour, et la plage s’élargit.",
    "remark.gap-unseen": "Pendant {hours} heures en tout, il n’y a pas eu de mesures. Environ "
    "{litres}, habituels à ces heures, ont été ajoutés\u202f; la plage en est plus large.",
    "remark.not-flushed": "Les premiers litres de cette cartouche se lisent autrement que les "
    "suivants\u00a0: elle n’a peut-être pas été rincée. Ils ne comptent pas.",
    "remark.stated-use": "Il n’y a pas de débitmètre\u00a0: le chiffre suit l’usage indiqué de "
    "{litres} par jour et les relevés faits à la main.",
    "remark.stated-use-by-hand": "Il n’y a pas de débitmètre\u00a0: le chiffre suit les relevés "
    "faits à la main.",
    "remark.use-unknown": "Il n’y a ni débitmètre ni usage indiqué\u00a0: indiquez les litres par "
    "jour, ou relevez deux fois un compteur d’eau.",
    "remark.no-probes": "Il n’y a pas de sonde après le filtre\u00a0: le chiffre repose sur les "
    "litres et les tests à gouttes.",
    "remark.no-inlet-probe": "Il n’y a qu’une sonde\u00a0: une autre eau brute et un by-pass "
    "tourné se ressemblent jusqu’au prochain test à gouttes.",
    "remark.medium-unseen": "La conductivité montre à peine la fin de ce média\u00a0: le chiffre "
    "repose sur les litres, la dureté de l’eau brute et les tests à gouttes.",
    "sharpen.drop-test": "Un test à gouttes fait maintenant ({what}) resserrerait les jours "
    "restants d’environ {days}.",
    "sharpen.second-probe": "Une seconde sonde, avant le filtre, resserrerait les jours restants "
    "d’environ {days}.",
    "sharpen.jug-test": "Contrôler le débitmètre au pichet resserrerait les jours restants "
    "d’environ {days}.",
    "sharpen.day": "un jour",
    "sharpen.days": "{n} jours",
    "remark.what.raw-total": "dureté totale de l’eau brute",
    "remark.what.raw-alkalinity": "alcalinité de l’eau brute",
    "remark.what.raw-calcium": "calcium de l’eau brute",
    "remark.what.outlet-total": "dureté totale de l’eau de la machine",
    "remark.what.outlet-alkalinity": "alcalinité de l’eau de la machine",
    "remark.what.outlet-calcium": "calcium de l’eau de la machine",
}
