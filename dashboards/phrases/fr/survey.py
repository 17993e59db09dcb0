"""French: the survey - its report, its plane, what speaks for and against a family.

`survey.CODE` (`survey.CODE.VARIANT`) are the reasons of `analytics.survey`, `survey.mend.*` what to
do about tests that contradict each other, `caution.*` the cautions of `analytics.media`, `family.*`
the families within a sentence.
"""

from __future__ import annotations

FAMILIES = {
    "family.carbon": "charbon",
    "family.hydrogen": "décarbonatation (hydrogène)",
    "family.magnesium": "magnésium",
    "family.membrane": "membrane avec reminéralisation",
    "family.mixed": "mixte (hydrogène et magnésium)",
    "family.polyphosphate": "dosage de polyphosphate",
    "family.sodium": "adoucissement (sodium)",
    "family.remineralise": "reminéralisation (lit de calcite)",
    "family.carbon.short": "charbon",
    "family.hydrogen.short": "hydrogène",
    "family.magnesium.short": "magnésium",
    "family.membrane.short": "membrane",
    "family.mixed.short": "mixte",
    "family.polyphosphate.short": "polyphosphate",
    "family.sodium.short": "sodium",
    "family.remineralise.short": "calcite",
    "family.carbon.does": "retire le chlore\u202f; dureté, alcalinité et conductivité restent",
    "family.hydrogen.does": "retire le calcium et le magnésium liés à l’alcalinité et donne de "
    "l’hydrogène, qui fait du CO2 avec les bicarbonates\u202f; la dureté permanente reste",
    "family.magnesium.does": "échange le calcium contre du magnésium\u202f; dureté totale et "
    "alcalinité restent, le calcium baisse",
    "family.membrane.does": "retient presque tous les ions, puis remet du calcium et de "
    "l’alcalinité",
    "family.mixed.does": "baisse la dureté carbonatée et échange une partie du calcium contre du "
    "magnésium",
    "family.polyphosphate.does": "séquestre calcium et magnésium avec quelques mg/L de "
    "polyphosphate\u202f; la dureté reste",
    "family.sodium.does": "échange calcium et magnésium contre du sodium\u202f; la dureté tombe "
    "presque à zéro, l’alcalinité reste",
    "family.remineralise.does": "met du calcium et de l’alcalinité dans une eau qui en manque",
}

CAUTIONS = {
    "caution.hygiene": "Cette cartouche ne rend pas potable une eau qui ne l’est pas.",
    "caution.flush": "Après des jours sans usage, rincez avant de boire.",
    "caution.confirm": "Une estimation n’est pas un test\u00a0: confirmez par un test à gouttes "
    "avant toute décision qui peut coûter une machine.",
    "caution.plumbing": "Pression du réseau, protection contre les retours d’eau et raccordement à "
    "l’eau potable\u00a0: règles locales et plombier qualifié.",
    "caution.electricity": "Électricité près de l’eau\u00a0: coupez-la d’abord, uniquement de la "
    "très basse tension en zone humide.",
    "caution.corrosion.new": "Après une cartouche neuve, le pH est d’environ {found} avec "
    "{alkalinity} d’alcalinité\u00a0: une telle eau corrode chaudières et tuyaux (plomb, cuivre, "
    "nickel). Mélangez-la.",
    "caution.corrosion.spent": "Une fois les minéraux épuisés, le pH est d’environ {found} avec "
    "{alkalinity} d’alcalinité\u00a0: une telle eau corrode chaudières et tuyaux (plomb, cuivre, "
    "nickel). Changez à temps.",
    "caution.chloride": "Les chlorures sont à environ {found} et restent dans l’eau\u00a0: les "
    "chaudières en inox et en laiton se corrodent. Seule une membrane les retire.",
    "caution.sodium-diet": "L’adoucissement ajoute {added} de sodium\u00a0: prévenez les personnes "
    "qui suivent un régime pauvre en sodium.",
    "caution.sodium-limit": "Le sodium atteint {found}, au-dessus de la limite de {limit} pour "
    "l’eau potable. Mélangez, ou choisissez un autre média.",
    "caution.faint.one-rises": "À la fin de la capacité, la conductivité ne monte que de {change} "
    "de celle de l’eau brute\u00a0: une seule sonde de sortie ne peut pas reconnaître la fin. "
    "L’estimation repose sur les litres, la dureté de l’eau brute et les tests à gouttes.",
    "caution.faint.one-falls": "À la fin de la capacité, la conductivité ne baisse que de {change} "
    "de celle de l’eau brute\u00a0: une seule sonde de sortie ne peut pas reconnaître la fin. "
    "L’estimation repose sur les litres, la dureté de l’eau brute et les tests à gouttes.",
    "caution.faint.pair-rises": "À la fin de la capacité, la conductivité ne monte que de {change} "
    "de celle de l’eau brute\u00a0: la conductivité, même avec deux sondes, ne peut pas "
    "reconnaître la fin. L’estimation repose sur les litres, la dureté de l’eau brute et les tests "
    "à gouttes.",
    "caution.faint.pair-falls": "À la fin de la capacité, la conductivité ne baisse que de "
    "{change} de celle de l’eau brute\u00a0: la conductivité, même avec deux sondes, ne peut pas "
    "reconnaître la fin. L’estimation repose sur les litres, la dureté de l’eau brute et les tests "
    "à gouttes.",
    "caution.not-visible.carbon": "La conductivité ne dit rien du charbon\u00a0: seuls comptent "
    "les litres et les mois.",
    "caution.not-visible.dose": "La conductivité et les tests à gouttes ne disent rien de la "
    "dose\u00a0: seuls comptent les litres et les mois.",
    "caution.films": "Films et boues peuvent boucher les passages d’eau d’une machine à espresso, "
    "qui n’ont parfois que 0,5\u202fmm\u00a0: déconseillé avant une telle machine.",
    "caution.steam-boiler": "Des minéraux de magnésium peuvent encore se déposer dans une "
    "chaudière à vapeur.",
    "caution.calcium-test": "La dureté totale change à peine\u00a0: seul un test à gouttes du "
    "calcium montre où en est ce média.",
    "caution.magnesium-rich": "{found} de la dureté de l’eau brute est déjà du magnésium\u00a0: le "
    "lit retient moins de calcium que sa capacité nominale.",
    "caution.sodium-first.hydrogen": "L’alcalinité dépasse la dureté\u00a0: le sodium perce "
    "d’abord, la conductivité de sortie monte donc tôt alors que la dureté est encore basse. Ce "
    "n’est pas la fin de la capacité.",
    "caution.sodium-first.mixed": "L’alcalinité dépasse la dureté\u00a0: le sodium perce d’abord, "
    "la conductivité de sortie monte donc tôt et la fuite suit le sodium de l’eau brute. Ni l’un "
    "ni l’autre n’est la fin de la capacité.",
    "caution.permanent": "Une dureté permanente d’environ {stays} reste dans l’eau et peut encore "
    "entartrer.",
    "caution.leakage": "Une cartouche neuve laisse passer environ {through} de la dureté "
    "carbonatée\u202f; la fin de la capacité se compte à partir de là.",
    "caution.permeate": "Le perméat d’une membrane saine conduit environ {passed} de l’eau "
    "brute\u00a0: jugez la membrane par une sonde avant la reminéralisation. Après celle-ci, une "
    "baisse marque sa fin.",
}

NAMES = {
    "survey.name.hardness": "dureté totale",
    "survey.name.alkalinity": "alcalinité",
    "survey.name.ec25": "conductivité",
    "survey.name.calcium": "calcium",
    "survey.name.magnesium": "magnésium",
    "survey.name.sodium": "sodium",
    "survey.name.chloride": "chlorures",
    "survey.name.sulphate": "sulfates",
    "survey.name.nitrate": "nitrates",
    "survey.name.ph": "pH",
    "survey.and": "{first} et {last}",
    "survey.cases": "{n} cas sur 100",
    "survey.kind.total": "dureté totale",
    "survey.kind.carbonate": "dureté carbonatée",
    "survey.kind.calcium": "dureté calcique",
}

REASONS = {
    "survey.hardness.above": "dureté {found} au-dessus de {limit}",
    "survey.hardness.below": "dureté {found} au-dessous de {limit}",
    "survey.alkalinity.above": "alcalinité {found} au-dessus de {limit}",
    "survey.alkalinity.below": "alcalinité {found} au-dessous de {limit}",
    "survey.changes-nothing.outside": "Eau brute\u00a0: {parts}\u202f; le charbon ne change ni "
    "l’une ni l’autre.",
    "survey.changes-nothing.seldom": "L’eau brute n’est dans la fenêtre que dans {found}\u202f; le "
    "charbon ne change aucun des deux chiffres.",
    "survey.scale.machine": "Dans la chaudière à café à {boiler}, l’indice de saturation est de "
    "{found}, au-dessus de {limit}\u00a0: tartre.",
    "survey.scale.carbon": "Dans la chaudière à café à {boiler}, l’indice de saturation est de "
    "{found}, au-dessus de {limit}\u00a0: tartre. Le charbon ne retire pas de calcaire.",
    "survey.not-needed.carbon": "L’eau brute est déjà dans la fenêtre\u00a0: du charbon suffit.",
    "survey.not-needed.membrane": "L’eau brute est déjà dans la fenêtre\u00a0: une membrane n’est "
    "pas nécessaire.",
    "survey.alkalinity-not-high.below": "Cela baisse l’alcalinité, mais celle de l’eau brute "
    "({found}) est déjà au-dessous de la fenêtre ({low} à {high}).",
    "survey.alkalinity-not-high.within": "Cela baisse l’alcalinité, mais celle de l’eau brute "
    "({found}) est déjà dans la fenêtre ({low} à {high}).",
    "survey.permanent-stays": "Cela ne retire que la dureté liée à l’alcalinité\u00a0: il "
    "resterait {found}, au-dessus de {limit}. Le reste est permanent (gypse, sel).",
    "survey.floor": "L’alcalinité dépasse la dureté\u00a0: {found} en est lié au sodium et reste, "
    "au-dessus de {limit}.",
    "survey.too-soft-behind": "Cela retire la dureté avec l’alcalinité\u00a0: une fois "
    "l’alcalinité dans la fenêtre, il ne reste que {found} de dureté, au-dessous de {limit}.",
    "survey.hardness-stays": "La dureté totale reste\u00a0: {found} est trop au-dessus des {limit} "
    "de la fenêtre.",
    "survey.already-soft.swap": "L’eau brute n’a que {found} de dureté\u00a0: il n’y a rien à "
    "échanger.",
    "survey.already-soft.take": "L’eau brute est déjà douce ({found})\u00a0: il n’y a rien à "
    "retirer.",
    "survey.alkalinity-stays": "L’alcalinité reste\u00a0: {found}, au-dessus des {limit} de la "
    "fenêtre\u00a0: une tasse plate.",
    "survey.magnesium-rich": "Seulement {found} de la dureté est du calcium\u00a0: l’échanger "
    "contre du magnésium change peu.",
    "survey.permanent-to-sodium": "La plus grande part des {found} est de la dureté permanente "
    "(gypse, sel)\u00a0: elle reviendrait en sel de sodium dans la tasse. Une membrane la retire.",
    "survey.low-sodium": "Cela ajoute du sodium, et l’eau doit rester pauvre en sodium.",
    "survey.not-thin.too-much": "Cela ajoute de la dureté et de l’alcalinité, et l’eau en a déjà "
    "trop.",
    "survey.not-thin.enough": "L’eau brute a assez de minéraux\u00a0: il n’y a rien à remettre.",
    "survey.already-thin": "L’eau brute manque déjà de minéraux\u00a0: en remettre suffit, sans "
    "membrane.",
    "survey.chloride.stays": "Des chlorures d’environ {found} restent, au-dessus de {limit}\u00a0: "
    "ils corrodent l’inox et le laiton. Seule une membrane les retire.",
    "survey.films": "Cela laisse la dureté en place, et ses films et ses boues peuvent boucher les "
    "passages d’eau d’une machine à espresso, qui n’ont parfois que 0,5\u202fmm.",
    "survey.hardness-high": "La machine recevrait encore une dureté de {found}, au-dessus de "
    "{limit}.",
    "survey.hardness-low": "La machine ne recevrait qu’une dureté de {found}, au-dessous de "
    "{limit}.",
    "survey.alkalinity-high": "La machine recevrait encore une alcalinité de {found}, au-dessus de "
    "{limit}.",
    "survey.alkalinity-low": "La machine ne recevrait qu’une alcalinité de {found}, au-dessous de "
    "{limit}.",
    "survey.calcium-high": "La machine recevrait encore un calcium de {found}, au-dessus de "
    "{limit}.",
    "survey.calcium-low": "La machine ne recevrait qu’un calcium de {found}, au-dessous de "
    "{limit}.",
    "survey.hardly-treats": "Avec {round} par le by-pass, cela ne traiterait presque pas l’eau.",
    "survey.just-outside": "Juste hors de la fenêtre\u00a0: {parts}.",
    "survey.sodium-limit.raw": "Le sodium de l’eau brute est déjà au-dessus de {limit} et reste.",
    "survey.sodium-limit.reached": "Le sodium atteindrait {found}, au-dessus de la limite de "
    "{limit}.",
    "survey.half-way": "Un lit de calcite seul atteint {hardness} de dureté et {alkalinity} "
    "d’alcalinité\u202f; pour plus, il faut du dioxyde de carbone ou des minéraux dosés.",
    "survey.unsure": "D’après ce que l’on sait, l’eau de la machine est dans la fenêtre dans "
    "{found}\u00a0: confirmez par un test à gouttes après le filtre avant de ne plus toucher au "
    "by-pass.",
    "survey.ph.below": "Le pH au robinet est d’environ {found}, au-dessous des {limit} de la "
    "fenêtre. Il monte à environ {open} quand le dioxyde de carbone s’échappe\u202f; jusque-là, "
    "l’eau attaque cuivre, laiton et plomb.",
    "survey.ph.above": "Le pH au robinet est d’environ {found}, au-dessus des {limit} de la "
    "fenêtre. À l’air, il descend à environ {open}.",
    "survey.low-ph": "Un pH de {found} au robinet est bas pour le cuivre, le laiton et le plomb "
    "tant que le CO2 ne s’est pas échappé.",
    "survey.corrosion": "Avec seulement {found} d’alcalinité, cette eau ne tamponne presque pas "
    "l’acide\u00a0: chaudières et tuyaux se corrodent (plomb, cuivre, nickel).",
    "survey.chloride-thickens": "Dans la chaudière à vapeur, il y en a {many} fois plus.",
    "survey.chloride-untested": "Les chlorures n’ont pas été testés\u202f; {low} à {high} est "
    "plausible, au-dessus de {limit} dans {over}\u00a0: testez-les avant tout achat.",
    "survey.chloride.unknown": "Des chlorures à {found} dépassent {limit}\u00a0: surveillez les "
    "piqûres de corrosion sur le métal de la chaudière.",
    "survey.chloride.stainless": "Des chlorures à {found} dépassent {limit}\u00a0: surveillez les "
    "piqûres de corrosion sur l’inox.",
    "survey.chloride.brass": "Des chlorures à {found} dépassent {limit}\u00a0: surveillez les "
    "piqûres de corrosion sur le laiton.",
    "survey.brew-scale": "Un peu de tartre à {boiler}\u00a0: indice de saturation {found}, jusqu’à "
    "{lime} de calcaire.",
    "survey.steam-scale": "La chaudière à vapeur concentre son eau ({many} fois)\u00a0: jusqu’à "
    "{lime} de calcaire de son eau d’appoint peut se déposer. Renouvelez souvent son eau.",
    "survey.steam-magnesium": "Des minéraux de magnésium peuvent s’y déposer aussi.",
    "survey.sodium-diet.over": "Ajoute {added} de sodium, {found} en tout (limite de l’eau potable "
    "{limit})\u00a0: prévenez les personnes qui suivent un régime pauvre en sodium, pour qui "
    "{diet} est conseillé.",
    "survey.sodium-diet.under": "Ajoute {added} de sodium, {found} en tout (limite de l’eau "
    "potable {limit})\u00a0: prévenez les personnes qui suivent un régime pauvre en sodium\u202f; "
    "{diet} leur est conseillé.",
    "survey.tds": "TDS {found} (EC25 fois {factor}, une convention) hors de {low} à {high}.",
    "survey.taste": "Cela retire calcium et magnésium, qui aident l’extraction\u00a0: bon pour la "
    "machine, moins bon pour la tasse.",
    "survey.effort.membrane": "Elle envoie une partie de l’eau à l’égout, demande la pression du "
    "réseau ou une pompe, et souvent un réservoir\u00a0: demandez son taux de conversion avant de "
    "la poser.",
    "survey.effort.calcite": "Ce qu’un lit de calcite dissout dépend du dioxyde de carbone "
    "libre\u00a0: mesurez le pH au robinet.",
    "survey.softened-already": "Presque pas de dureté, mais beaucoup d’alcalinité\u00a0: un "
    "adoucisseur se trouve avant ce robinet, ou l’échantillon a été pris après un adoucisseur. "
    "Analysez l’eau du réseau.",
    "survey.alkalinity-exceeds-hardness": "L’alcalinité dépasse la dureté totale de {floor}\u00a0: "
    "cette part est liée au sodium. Un test de «\u202fdureté carbonatée\u202f» la montre "
    "aussi\u202f; ce n’est pas une erreur du test.",
    "survey.hardness-inferred.alone": "La dureté est déduite de l’alcalinité ou du calcium "
    "seul\u00a0: comptez ses gouttes.",
    "survey.hardness-inferred.conductivity": "La dureté est déduite de la conductivité, qui voit "
    "tous les sels\u00a0: comptez ses gouttes.",
    "survey.report-differs": "Pour\u00a0: {what}, le test trouve {tested}, l’analyse du "
    "distributeur indique {stated}. Le test est retenu\u202f; l’analyse peut venir d’une autre "
    "zone ou d’une autre année, ou le réseau est alimenté par plusieurs sources.",
}

DOUBTS = {
    "survey.calcium-above-hardness.unit": "Le calcium ({calcium}) est au-dessus de la dureté "
    "totale ({hardness}), dont il fait partie. Lu en mg/L de CaCO3 au lieu de calcium, il serait "
    "de {slipped} et s’accorderait\u00a0: l’unité du calcium est probablement fausse.",
    "survey.calcium-above-hardness.hardness": "Le calcium ({calcium}) est au-dessus de la dureté "
    "totale ({hardness}), dont il fait partie. La conductivité et l’alcalinité donnent raison au "
    "calcium\u00a0: le test de dureté est probablement faux.",
    "survey.calcium-above-hardness.calcium": "Le calcium ({calcium}) est au-dessus de la dureté "
    "totale ({hardness}), dont il fait partie. Un test de calcium demande un pH de 12 et lit trop "
    "haut sans cela\u00a0: c’est plutôt le calcium qui est faux.",
    "survey.parts-not-hardness": "Calcium et magnésium font ensemble {both}, la dureté totale est "
    "de {whole}\u00a0: les deux devraient être égaux. Deux chiffres d’une même analyse pèsent plus "
    "qu’un test\u00a0: la dureté totale est probablement fausse, ou l’eau a changé.",
    "survey.conductivity-too-low.test": "{found}, c’est trop peu pour cette eau ({known})\u00a0: "
    "ces ions seuls conduisent au moins {least} à 25\u202f°C. La conductivité s’accorde "
    "avec\u00a0: {others}. Probablement faux\u00a0: {wrong} (autre taille de goutte, ou "
    "autre eau).",
    "survey.conductivity-too-low.conductivity": "{found}, c’est trop peu pour cette eau "
    "({known})\u00a0: ces ions seuls conduisent au moins {least} à 25\u202f°C. Ils s’accordent "
    "entre eux\u00a0: c’est probablement la conductivité qui est fausse.",
    "survey.conductivity-too-low.either": "{found}, c’est trop peu pour cette eau ({known})\u00a0: "
    "ces ions seuls conduisent au moins {least} à 25\u202f°C. L’un des deux est faux\u202f; une "
    "lecture de conductivité s’égare plus facilement que des gouttes.",
    "survey.too-few-cations.hardness": "Alcalinité et chlorures font {anions}, mais dureté et "
    "sodium au plus {cations}\u00a0: il n’y a pas assez de cations pour aller avec. La "
    "conductivité s’accorde avec l’alcalinité\u00a0: le test de dureté est probablement faux.",
    "survey.too-few-cations.alkalinity": "Alcalinité et chlorures font {anions}, mais dureté et "
    "sodium au plus {cations}\u00a0: il n’y a pas assez de cations pour aller avec. Deux tests "
    "contre un\u00a0: l’alcalinité est probablement fausse.",
    "survey.ph-too-high": "À pH {found}, cette dureté et cette alcalinité déposeraient du calcaire "
    "dans le réseau (indice de saturation {index}). Le pH est probablement faux\u00a0: un "
    "échantillon qui attend perd du CO2 et son pH monte.",
    "survey.ph-too-low": "À pH {found}, cette alcalinité va avec {co2} de dioxyde de carbone "
    "libre, plus qu’un réseau n’en porte. Le pH est probablement faux.",
    "survey.mend.unit": "Dites de quoi sont les milligrammes\u00a0: «\u202f40 mg/L\u202f» est du "
    "calcium, «\u202f100 mg/L en CaCO3\u202f» de la dureté.",
    "survey.mend.drops": "Refaites le test de dureté totale et vérifiez ce que vaut une goutte.",
    "survey.mend.again": "Refaites les deux tests, celui du calcium avec son tampon alcalin.",
    "survey.mend.kit": "Refaites le test et vérifiez ce que vaut une goutte.",
    "survey.mend.probe": "Vérifiez l’appareil dans un étalon (1413\u202fµS/cm), son unité "
    "(mS/cm\u202f?) et s’il ramène à 25\u202f°C\u00a0: sans cela, il lit 30\u202f% trop bas à "
    "10\u202f°C.",
    "survey.mend.alkalinity": "Un test d’alcalinité dit lequel est juste.",
    "survey.mend.ph": "Mesurez le pH tout de suite au robinet, avec un appareil réglé dans deux "
    "tampons.",
}

TEXTS = {**FAMILIES, **CAUTIONS, **NAMES, **REASONS, **DOUBTS}
