"""Italian: what a person should know of a figure, a text a code of `analytics.remarks`."""

from __future__ import annotations

TEXTS = {
    "remark.raw-water-unknown": "Dell'acqua grezza non si sa ancora nulla: farne un test a gocce.",
    "remark.start-unknown": "Nessuno ha inserito quanti litri erano già passati da questa "
    "cartuccia: la stima parte da qualsiasi punto della sua vita.",
    "remark.no-capacity": "Il file della sede non indica la capacità: i litri rimanenti non si "
    "possono calcolare.",
    "remark.cartridge-unannounced": "A quanto pare {day} la cartuccia è stata cambiata senza "
    "segnalarlo. Quella vecchia è chiusa; inserire il cambio per esserne certi.",
    "remark.probes-exchanged": "Le sonde prima e dopo il filtro risultano scambiate; inizio: "
    "{day}. Vengono lette al contrario finché non si rimettono a posto.",
    "remark.drop-test-doubted": "Il test a gocce di {day} ({what}) dice {told}, si attendeva "
    "{range}. Probabilmente è sbagliato, ma entrambi restano possibili: l'intervallo è più largo. "
    "Ripetere il test.",
    "remark.k-factor-off": "Il contalitri conta {factor} volte l'acqua che passa: inserire di "
    "nuovo il suo fattore K.",
    "remark.outlet-film": "Sulla sonda dopo il filtro sembra crescere una pellicola: pulirla, poi "
    "leggere entrambe le sonde in acqua grezza.",
    "remark.inlet-film": "Sulla sonda prima del filtro sembra crescere una pellicola: legge "
    "troppo basso. Pulirla, poi leggere entrambe le sonde in acqua grezza.",
    "remark.gap-running": "Nessuna misura; l'ultima: {moment}. Si aggiungono i litri abituali "
    "finché le misure non tornano, e l'intervallo si allarga.",
    "remark.gap-unseen": "Per {hours} ore in tutto non ci sono state misure. Sono stati aggiunti "
    "circa {litres}, abituali in quelle ore; l'intervallo è perciò più largo.",
    "remark.not-flushed": "I primi litri di questa cartuccia danno letture diverse dai "
    "successivi: forse non è stata risciacquata. Non vengono contati.",
    "remark.stated-use": "Manca un contalitri: la stima segue il consumo dichiarato di {litres} "
    "al giorno e le letture a mano.",
    "remark.stated-use-by-hand": "Manca un contalitri: la stima segue le letture a mano.",
    "remark.use-unknown": "Mancano un contalitri e un consumo dichiarato: indicare i litri al "
    "giorno, o leggere due volte a mano un contatore dell'acqua.",
    "remark.no-probes": "Dopo il filtro non c'è una sonda: la stima si basa su litri e test a "
    "gocce.",
    "remark.no-inlet-probe": "C'è una sola sonda: un'altra acqua grezza e un by-pass spostato "
    "sembrano uguali fino al prossimo test a gocce.",
    "remark.medium-unseen": "La conducibilità mostra appena la fine di questo materiale: la stima "
    "si basa su litri, durezza dell'acqua grezza e test a gocce.",
    "sharpen.drop-test": "Un test a gocce ora ({what}) restringerebbe i giorni rimanenti di circa "
    "{days}.",
    "sharpen.second-probe": "Una seconda sonda, prima del filtro, restringerebbe i giorni "
    "rimanenti di circa {days}.",
    "sharpen.jug-test": "Una verifica del contalitri con la caraffa restringerebbe i giorni "
    "rimanenti di circa {days}.",
    "sharpen.day": "un giorno",
    "sharpen.days": "{n} giorni",
    "remark.what.raw-total": "durezza totale dell'acqua grezza",
    "remark.what.raw-alkalinity": "alcalinità dell'acqua grezza",
    "remark.what.raw-calcium": "calcio dell'acqua grezza",
    "remark.what.outlet-total": "durezza totale dell'acqua della macchina",
    "remark.what.outlet-alkalinity": "alcalinità dell'acqua della macchina",
    "remark.what.outlet-calcium": "calcio dell'acqua della macchina",
}
