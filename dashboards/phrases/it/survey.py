"""Italian: the survey - its report, its plane, what speaks for and against a family."""

from __future__ import annotations

FAMILIES = {
    "family.carbon": "carbone attivo",
    "family.hydrogen": "decarbonatazione (idrogeno)",
    "family.magnesium": "magnesio",
    "family.membrane": "membrana con rimineralizzatore",
    "family.mixed": "misto (idrogeno e magnesio)",
    "family.polyphosphate": "dosaggio di polifosfati",
    "family.sodium": "addolcimento (sodio)",
    "family.remineralise": "rimineralizzazione (letto di calcite)",
    "family.carbon.short": "carbone",
    "family.hydrogen.short": "idrogeno",
    "family.magnesium.short": "magnesio",
    "family.membrane.short": "membrana",
    "family.mixed.short": "misto",
    "family.polyphosphate.short": "polifosfati",
    "family.sodium.short": "sodio",
    "family.remineralise.short": "rimineralizzare",
    "family.carbon.does": "toglie il cloro; durezza, alcalinità e conducibilità restano",
    "family.hydrogen.does": "prende il calcio e il magnesio legati all'alcalinità e cede "
    "idrogeno, che trasforma il bicarbonato in CO2; la durezza permanente resta",
    "family.magnesium.does": "scambia calcio con magnesio; durezza totale e alcalinità restano, "
    "il calcio scende",
    "family.membrane.does": "trattiene quasi tutti gli ioni, poi restituisce calcio e alcalinità",
    "family.mixed.does": "abbassa la durezza temporanea e scambia parte del calcio con magnesio",
    "family.polyphosphate.does": "sequestra calcio e magnesio con pochi mg/L di polifosfati; la "
    "durezza resta",
    "family.sodium.does": "scambia calcio e magnesio con sodio; la durezza scende quasi a zero, "
    "l'alcalinità resta",
    "family.remineralise.does": "aggiunge calcio e alcalinità a un'acqua povera",
}

CAUTIONS = {
    "caution.hygiene": "Un'acqua non sicura da bere non diventa sicura con questa cartuccia.",
    "caution.flush": "Dopo giorni senza uso, risciacquare prima di bere.",
    "caution.confirm": "Una stima non è un test: confermare con un test a gocce prima di una "
    "decisione che può costare una macchina.",
    "caution.plumbing": "Pressione di rete, protezione dal riflusso e allacciamenti di acqua "
    "potabile: norme locali e un idraulico abilitato.",
    "caution.electricity": "Elettricità accanto all'acqua: prima di tutto togliere tensione; "
    "nella zona bagnata solo bassissima tensione.",
    "caution.corrosion.new": "Dopo una cartuccia nuova il pH è circa {found} con {alkalinity} di "
    "alcalinità: un'acqua così corrode caldaie e tubi (piombo, rame, nichel). Miscelarla.",
    "caution.corrosion.spent": "Quando i minerali sono esauriti il pH è circa {found} con "
    "{alkalinity} di alcalinità: un'acqua così corrode caldaie e tubi (piombo, rame, nichel). "
    "Cambiare in tempo.",
    "caution.chloride": "I cloruri sono circa {found} e restano nell'acqua: le caldaie in acciaio "
    "inox e in ottone si corrodono. Solo una membrana li toglie.",
    "caution.sodium-diet": "L'addolcimento aggiunge sodio, {added}: avvisare chi segue una dieta "
    "povera di sodio.",
    "caution.sodium-limit": "Il sodio arriva a {found}, oltre il limite per l'acqua potabile di "
    "{limit}. Miscelare, o scegliere un altro materiale.",
    "caution.faint.one-rises": "A fine capacità la conducibilità sale solo di una quota pari a "
    "{change} dell'acqua grezza: con una sola sonda in uscita la fine non si vede. La stima si "
    "basa su litri, durezza dell'acqua grezza e test a gocce.",
    "caution.faint.one-falls": "A fine capacità la conducibilità scende solo di una quota pari a "
    "{change} dell'acqua grezza: con una sola sonda in uscita la fine non si vede. La stima si "
    "basa su litri, durezza dell'acqua grezza e test a gocce.",
    "caution.faint.pair-rises": "A fine capacità la conducibilità sale solo di una quota pari a "
    "{change} dell'acqua grezza: la conducibilità, anche con due sonde, non può indicare la fine. "
    "La stima si basa su litri, durezza dell'acqua grezza e test a gocce.",
    "caution.faint.pair-falls": "A fine capacità la conducibilità scende solo di una quota pari a "
    "{change} dell'acqua grezza: la conducibilità, anche con due sonde, non può indicare la fine. "
    "La stima si basa su litri, durezza dell'acqua grezza e test a gocce.",
    "caution.not-visible.carbon": "La conducibilità non dice nulla del carbone attivo: contano "
    "solo litri e mesi.",
    "caution.not-visible.dose": "Conducibilità e test a gocce non dicono nulla della dose: "
    "contano solo litri e mesi.",
    "caution.films": "Pellicole e fanghi possono ostruire i passaggi d'acqua di una macchina da "
    "espresso, sottili anche 0,5\u202fmm: sconsigliato a monte.",
    "caution.steam-boiler": "In una caldaia vapore i minerali di magnesio possono ancora "
    "depositarsi.",
    "caution.calcium-test": "La durezza totale cambia appena: solo un test a gocce del calcio "
    "mostra a che punto è questo materiale.",
    "caution.magnesium-rich": "La parte di durezza grezza che è già magnesio è {found}: il letto "
    "prende meno calcio della sua capacità nominale.",
    "caution.sodium-first.hydrogen": "L'alcalinità supera la durezza: il sodio passa per primo, "
    "perciò la conducibilità in uscita sale presto, quando la durezza è ancora bassa. Non è la "
    "fine della capacità.",
    "caution.sodium-first.mixed": "L'alcalinità supera la durezza: il sodio passa per primo, "
    "perciò la conducibilità in uscita sale presto e la fuga varia con il sodio dell'acqua "
    "grezza. Né l'una né l'altra è la fine della capacità.",
    "caution.permanent": "Una durezza permanente di circa {stays} resta nell'acqua e può ancora "
    "incrostare.",
    "caution.leakage": "Una cartuccia nuova non trattiene tutta la durezza temporanea: ne passa "
    "circa {through}; la fine della capacità si conta da lì.",
    "caution.permeate": "Il permeato di una membrana sana ha una conducibilità pari a circa "
    "{passed} di quella dell'acqua grezza: giudicare la membrana con una sonda prima del "
    "rimineralizzatore. Dopo il rimineralizzatore, un calo indica che è finito.",
}

NAMES = {
    "survey.name.hardness": "durezza totale",
    "survey.name.alkalinity": "alcalinità",
    "survey.name.ec25": "conducibilità",
    "survey.name.calcium": "calcio",
    "survey.name.magnesium": "magnesio",
    "survey.name.sodium": "sodio",
    "survey.name.chloride": "cloruri",
    "survey.name.sulphate": "solfati",
    "survey.name.nitrate": "nitrati",
    "survey.name.ph": "pH",
    "survey.and": "{first} e {last}",
    "survey.cases": "{n} casi su 100",
    "survey.kind.total": "durezza totale",
    "survey.kind.carbonate": "durezza temporanea",
    "survey.kind.calcium": "durezza calcica",
}

REASONS = {
    "survey.hardness.above": "durezza {found} sopra {limit}",
    "survey.hardness.below": "durezza {found} sotto {limit}",
    "survey.alkalinity.above": "alcalinità {found} sopra {limit}",
    "survey.alkalinity.below": "alcalinità {found} sotto {limit}",
    "survey.changes-nothing.outside": "Acqua grezza: {parts}; il carbone attivo non cambia né "
    "l'una né l'altra.",
    "survey.changes-nothing.seldom": "L'acqua grezza è nella finestra solo in {found}; il carbone "
    "attivo non cambia nessuno dei due valori.",
    "survey.scale.machine": "Nella caldaia caffè a {boiler} l'indice di saturazione è {found}, "
    "sopra {limit}: calcare.",
    "survey.scale.carbon": "Nella caldaia caffè a {boiler} l'indice di saturazione è {found}, "
    "sopra {limit}: calcare. Il carbone attivo non toglie calcare.",
    "survey.not-needed.carbon": "L'acqua grezza è già nella finestra: basta il carbone attivo.",
    "survey.not-needed.membrane": "L'acqua grezza è già nella finestra: una membrana non serve.",
    "survey.alkalinity-not-high.below": "Abbassa l'alcalinità, ma quella dell'acqua grezza "
    "({found}) è già sotto la finestra (da {low} a {high}).",
    "survey.alkalinity-not-high.within": "Abbassa l'alcalinità, ma quella dell'acqua grezza "
    "({found}) è già nella finestra (da {low} a {high}).",
    "survey.permanent-stays": "Prende solo la durezza legata all'alcalinità: resterebbe {found}, "
    "sopra {limit}. Il resto è permanente (gesso, sale).",
    "survey.floor": "L'alcalinità supera la durezza: la parte legata al sodio, {found}, resta, "
    "sopra {limit}.",
    "survey.too-soft-behind": "Insieme all'alcalinità prende la durezza: quando l'alcalinità è "
    "nella finestra, di durezza resta solo {found}, sotto {limit}.",
    "survey.hardness-stays": "La durezza totale resta: {found}, troppo sopra il limite della "
    "finestra, {limit}.",
    "survey.already-soft.swap": "L'acqua grezza ha di durezza solo {found}: non c'è nulla da "
    "scambiare.",
    "survey.already-soft.take": "L'acqua grezza è già dolce ({found}): non c'è nulla da togliere.",
    "survey.alkalinity-stays": "L'alcalinità resta: {found}, sopra il limite della finestra, "
    "{limit}: un caffè piatto.",
    "survey.magnesium-rich": "La parte di durezza che è calcio è solo {found}: scambiarla con "
    "magnesio cambia poco.",
    "survey.permanent-to-sodium": "Di {found} la maggior parte è durezza permanente (gesso, "
    "sale): tornerebbe nella tazza come sale di sodio. Una membrana la toglie.",
    "survey.low-sodium": "Aggiunge sodio, e l'acqua deve restare povera di sodio.",
    "survey.not-thin.too-much": "Aggiunge durezza e alcalinità, e l'acqua ne ha già troppe.",
    "survey.not-thin.enough": "L'acqua grezza ha minerali a sufficienza: non serve aggiungerne.",
    "survey.already-thin": "L'acqua grezza è già povera: basta aggiungere minerali, senza "
    "membrana.",
    "survey.chloride.stays": "I cloruri, circa {found}, restano, sopra {limit}: corrodono acciaio "
    "inox e ottone. Solo una membrana li toglie.",
    "survey.films": "Lascia la durezza dov'è, e le sue pellicole e i suoi fanghi possono ostruire "
    "i passaggi d'acqua di una macchina da espresso, sottili anche 0,5\u202fmm.",
    "survey.hardness-high": "La macchina riceverebbe ancora una durezza di {found}, sopra {limit}.",
    "survey.hardness-low": "La macchina riceverebbe una durezza di soli {found}, sotto {limit}.",
    "survey.alkalinity-high": "La macchina riceverebbe ancora un'alcalinità di {found}, sopra "
    "{limit}.",
    "survey.alkalinity-low": "La macchina riceverebbe un'alcalinità di soli {found}, sotto "
    "{limit}.",
    "survey.calcium-high": "La macchina riceverebbe ancora calcio per {found}, sopra {limit}.",
    "survey.calcium-low": "La macchina riceverebbe calcio solo per {found}, sotto {limit}.",
    "survey.hardly-treats": "Con {round} in by-pass l'acqua sarebbe appena trattata.",
    "survey.just-outside": "Appena fuori dalla finestra: {parts}.",
    "survey.sodium-limit.raw": "Il sodio dell'acqua grezza è già sopra {limit} e resta.",
    "survey.sodium-limit.reached": "Il sodio arriverebbe a {found}, oltre il limite di {limit}.",
    "survey.half-way": "Un letto di calcite da solo arriva a {hardness} di durezza e {alkalinity} "
    "di alcalinità; per di più servono anidride carbonica o minerali dosati.",
    "survey.unsure": "Per quanto si sa, l'acqua della macchina è nella finestra in {found}: "
    "confermare con un test a gocce dopo il filtro prima di non toccare più il by-pass.",
    "survey.ph.below": "Il pH al rubinetto è circa {found}, sotto il minimo della finestra, "
    "{limit}. Sale a circa {open} quando l'anidride carbonica se ne va; fino ad allora attacca "
    "rame, ottone e piombo.",
    "survey.ph.above": "Il pH al rubinetto è circa {found}, sopra il massimo della finestra, "
    "{limit}. All'aria scende a circa {open}.",
    "survey.low-ph": "Il pH {found} al rubinetto è basso per rame, ottone e piombo finché la CO2 "
    "non se n'è andata.",
    "survey.corrosion": "Con un'alcalinità di soli {found} quest'acqua non tampona quasi gli "
    "acidi: caldaie e tubi si corrodono (piombo, rame, nichel).",
    "survey.chloride-thickens": "Nella caldaia vapore la concentrazione è {many} volte tanto.",
    "survey.chloride-untested": "I cloruri non sono stati misurati; è plausibile da {low} a "
    "{high}, sopra {limit} in {over}: misurarli prima di acquistare qualsiasi cosa.",
    "survey.chloride.unknown": "Cloruri {found}, sopra {limit}: controllare che il metallo della "
    "caldaia non si corroda per vaiolatura.",
    "survey.chloride.stainless": "Cloruri {found}, sopra {limit}: controllare che l'acciaio inox "
    "non si corroda per vaiolatura.",
    "survey.chloride.brass": "Cloruri {found}, sopra {limit}: controllare che l'ottone non si "
    "corroda per vaiolatura.",
    "survey.brew-scale": "Un po' di calcare a {boiler}: indice di saturazione {found}, fino a "
    "{lime} di calcare.",
    "survey.steam-scale": "La caldaia vapore concentra la sua acqua ({many} volte): della sua "
    "alimentazione si può depositare calcare fino a {lime}. Cambiarne spesso l'acqua.",
    "survey.steam-magnesium": "Anche lì possono depositarsi minerali di magnesio.",
    "survey.sodium-diet.over": "Aggiunge sodio, {added}, in tutto {found} (limite per l'acqua "
    "potabile {limit}): avvisare chi segue una dieta povera di sodio, per cui si consiglia {diet}.",
    "survey.sodium-diet.under": "Aggiunge sodio, {added}, in tutto {found} (limite per l'acqua "
    "potabile {limit}): avvisare chi segue una dieta povera di sodio; il valore consigliato è "
    "{diet}.",
    "survey.tds": "TDS {found} (EC25 per {factor}, per convenzione), fuori dall'intervallo da "
    "{low} a {high}.",
    "survey.taste": "Prende calcio e magnesio, che servono all'estrazione: bene per la macchina, "
    "povero in tazza.",
    "survey.effort.membrane": "Manda parte dell'acqua allo scarico, richiede pressione di rete o "
    "una pompa, e spesso un serbatoio: chiedere il recupero prima di montarla.",
    "survey.effort.calcite": "Quanta calcite si scioglie dipende dall'anidride carbonica libera: "
    "misurare il pH al rubinetto.",
    "survey.softened-already": "Quasi nessuna durezza, ma molta alcalinità: c'è un addolcitore "
    "prima di questo rubinetto, o il campione è stato preso dopo uno. Esaminare l'acqua di rete.",
    "survey.alkalinity-exceeds-hardness": "L'alcalinità supera la durezza totale di {floor}: "
    "quella parte è legata al sodio. La mostra anche un test di «durezza temporanea»; non è un "
    "errore del test.",
    "survey.hardness-inferred.alone": "La durezza è dedotta solo dall'alcalinità o dal calcio: "
    "contarne le gocce.",
    "survey.hardness-inferred.conductivity": "La durezza è dedotta dalla conducibilità, che vede "
    "tutti i sali: contarne le gocce.",
    "survey.report-differs": "Il test trova per {what} {tested}, l'analisi indica {stated}. Vale "
    "il test; l'analisi può essere di un'altra zona o di un altro anno, o la rete è alimentata da "
    "più fonti.",
}

DOUBTS = {
    "survey.calcium-above-hardness.unit": "Il calcio ({calcium}) è sopra la durezza totale "
    "({hardness}), di cui è una parte. Letto come mg/L di CaCO3 anziché di calcio sarebbe "
    "{slipped} e tornerebbe: l'unità del valore del calcio è probabilmente sbagliata.",
    "survey.calcium-above-hardness.hardness": "Il calcio ({calcium}) è sopra la durezza totale "
    "({hardness}), di cui è una parte. Conducibilità e alcalinità danno ragione al calcio: il "
    "test di durezza è probabilmente sbagliato.",
    "survey.calcium-above-hardness.calcium": "Il calcio ({calcium}) è sopra la durezza totale "
    "({hardness}), di cui è una parte. Un test del calcio richiede pH 12 e senza di esso legge "
    "alto: più probabilmente è sbagliato il calcio.",
    "survey.parts-not-hardness": "Calcio e magnesio insieme fanno {both}, la durezza totale è "
    "{whole}: dovrebbero coincidere. Due valori di una stessa analisi pesano più di un test: la "
    "durezza totale è probabilmente sbagliata, o l'acqua è cambiata.",
    "survey.conductivity-too-low.test": "{found} è troppo poco per {known}: questi ioni da soli "
    "conducono almeno {least} a 25\u202f°C. La conducibilità concorda con {others}; probabilmente "
    "sbagliato: {wrong} (altra dimensione della goccia, o altra acqua).",
    "survey.conductivity-too-low.conductivity": "{found} è troppo poco per {known}: questi ioni "
    "da soli conducono almeno {least} a 25\u202f°C. Essi concordano tra loro: la conducibilità è "
    "probabilmente sbagliata.",
    "survey.conductivity-too-low.either": "{found} è troppo poco per {known}: questi ioni da soli "
    "conducono almeno {least} a 25\u202f°C. Uno dei due è sbagliato; una lettura di conducibilità "
    "va fuori strada più facilmente delle gocce.",
    "survey.too-few-cations.hardness": "Alcalinità e cloruri fanno {anions}, ma durezza e sodio "
    "al massimo {cations}: non ci sono abbastanza cationi per accompagnarli. La conducibilità "
    "concorda con l'alcalinità: il test di durezza è probabilmente sbagliato.",
    "survey.too-few-cations.alkalinity": "Alcalinità e cloruri fanno {anions}, ma durezza e sodio "
    "al massimo {cations}: non ci sono abbastanza cationi per accompagnarli. Due test contro uno: "
    "l'alcalinità è probabilmente sbagliata.",
    "survey.ph-too-high": "A pH {found} con questa durezza e alcalinità il calcare precipiterebbe "
    "già nella rete (indice di saturazione {index}). Il pH è probabilmente sbagliato: un campione "
    "lasciato fermo perde CO2 e sale.",
    "survey.ph-too-low": "A pH {found} a questa alcalinità corrisponde anidride carbonica libera "
    "per {co2}, più di quanta ne porti una rete. Il pH è probabilmente sbagliato.",
    "survey.mend.unit": "Dire di che cosa sono i milligrammi: «40 mg/L» è calcio, «100 mg/L as "
    "CaCO3» durezza.",
    "survey.mend.drops": "Ripetere il test di durezza totale e controllare quanto vale una goccia.",
    "survey.mend.again": "Ripetere entrambi i test, il calcio con il suo tampone alcalino.",
    "survey.mend.kit": "Ripetere il test e controllare quanto vale una goccia.",
    "survey.mend.probe": "Verificare il conduttimetro in una soluzione standard "
    "(1413\u202fµS/cm), la sua unità (mS/cm?) e se riferisce a 25\u202f°C: senza, a 10\u202f°C "
    "legge il 30\u202f% in meno.",
    "survey.mend.alkalinity": "Un test di alcalinità dice quale è giusto.",
    "survey.mend.ph": "Misurare il pH subito al rubinetto, con uno strumento regolato in due "
    "tamponi.",
}

TEXTS = {**FAMILIES, **CAUTIONS, **NAMES, **REASONS, **DOUBTS}
