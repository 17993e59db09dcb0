"""Italian: what each alarm means and what to do, in a barista's words."""

from __future__ import annotations

from dashboards.phrases.both_probes import probe_alarms

HARDNESS = {
    "alarm.outlet-hardness-high": "La macchina riceve acqua dura.",
    "alarm.outlet-hardness-high.figures": "Circa {outlet}; il massimo previsto è {limit}.",
    "alarm.outlet-hardness-high.cause": "La cartuccia è esaurita, il by-pass è troppo aperto, "
    "oppure l'acqua di rete è diventata più dura.",
    "alarm.outlet-hardness-high.consequence": "Nella macchina comincia a formarsi calcare.",
    "alarm.outlet-hardness-high.do": "Fare un test a gocce dell'acqua della macchina. Se conferma "
    "che è dura, cambiare la cartuccia.",
    "alarm.breakthrough": "La cartuccia è esaurita.",
    "alarm.breakthrough.figures": "Grado di certezza: {chance}.",
    "alarm.breakthrough.cause": "Ha preso tutto ciò che può prendere.",
    "alarm.breakthrough.consequence": "La macchina riceve ogni giorno acqua più dura e comincia a "
    "incrostarsi.",
    "alarm.breakthrough.do": "Fare un test a gocce dell'acqua della macchina e cambiare la "
    "cartuccia.",
    "alarm.capacity-low": "La cartuccia si avvicina alla fine: programmare il cambio.",
    "alarm.capacity-low.figures": "Restano circa {left}, giorni: {days}.",
    "alarm.capacity-low.cause": "Ha preso quasi tutto ciò che può prendere.",
    "alarm.capacity-low.consequence": "Al più tardi tra qualche settimana l'acqua diventa dura.",
    "alarm.capacity-low.do": "Tenere pronta la prossima cartuccia e fissare il giorno del cambio.",
    "alarm.change-now": "Cambiare ora la cartuccia.",
    "alarm.change-now.figures": "Restano circa {left}, giorni: {days}.",
    "alarm.change-now.cause": "Non ne resta quasi nulla.",
    "alarm.change-now.consequence": "Al più tardi tra qualche giorno l'acqua diventa dura.",
    "alarm.change-now.do": "Cambiare la cartuccia oggi o domani, oppure chiamare l'assistenza.",
    "alarm.time-limit-near": "La cartuccia sta per scadere.",
    "alarm.time-limit-near.figures": "Giorni per cui può ancora restare: {days}.",
    "alarm.time-limit-near.cause": "Una cartuccia va cambiata dopo i suoi mesi, anche se usata "
    "poco.",
    "alarm.time-limit-near.consequence": "In una cartuccia vecchia possono crescere germi.",
    "alarm.time-limit-near.do": "Tenere pronta la prossima cartuccia e fissare il giorno del "
    "cambio.",
    "alarm.time-limit": "La cartuccia è montata da troppo tempo.",
    "alarm.time-limit.figures": "Giorni di ritardo sul cambio: {days}.",
    "alarm.time-limit.cause": "I suoi mesi sono passati, anche se è stata usata poco.",
    "alarm.time-limit.consequence": "In una cartuccia vecchia possono crescere germi.",
    "alarm.time-limit.do": "Cambiare la cartuccia.",
    "alarm.carbon-spent": "Il carbone attivo della cartuccia è esaurito.",
    "alarm.carbon-spent.cause": "Sono passati i litri per cui è fatto.",
    "alarm.carbon-spent.consequence": "Passano il cloro e il sapore dell'acqua di rete.",
    "alarm.carbon-spent.do": "Cambiare la cartuccia.",
}

WATER = {
    "alarm.raw-water-changed": "Dalla rete arriva un'acqua diversa.",
    "alarm.raw-water-changed.together": "Dalla rete arriva un'acqua diversa: prima e dopo la "
    "cartuccia è cambiata nel giro di poche ore.",
    "alarm.raw-water-changed.outlet-alone": "Dalla rete arriva probabilmente un'acqua diversa: "
    "dopo la cartuccia è cambiata troppo in fretta perché si tratti di una cartuccia esaurita.",
    "alarm.raw-water-changed.figures": "Acqua grezza: circa {raw}.",
    "alarm.raw-water-changed.cause": "Il gestore idrico è passato a un'altra fonte, oppure è "
    "stata girata una valvola.",
    "alarm.raw-water-changed.consequence": "La cartuccia dura più o meno litri, e il by-pass può "
    "non essere più adatto.",
    "alarm.raw-water-changed.do": "Fare un test a gocce dell'acqua grezza e uno dell'acqua della "
    "macchina; controllare il by-pass.",
    "alarm.bypass-off": "Il by-pass non lavora come è regolato.",
    "alarm.bypass-off.figures": "Regolato a {set}, lavora come {bypass}.",
    "alarm.bypass-off.cause": "Qualcuno lo ha girato, era regolato male, oppure è bloccato.",
    "alarm.bypass-off.consequence": "La macchina riceve acqua più dura o più povera del previsto, "
    "e la durata della cartuccia cambia.",
    "alarm.bypass-off.do": "Controllare la regolazione sulla testata, poi fare un test a gocce "
    "dell'acqua della macchina.",
    "alarm.water-hard": "L'acqua della macchina è più dura di quanto chiede il profilo.",
    "alarm.water-hard.figures": "Circa {hardness}; il massimo previsto è {limit}.",
    "alarm.water-hard.cause": "Il by-pass è troppo aperto, oppure la cartuccia si avvicina alla "
    "fine.",
    "alarm.water-hard.consequence": "Il caffè perde carattere e può formarsi calcare.",
    "alarm.water-hard.do": "Fare un test a gocce dell'acqua della macchina; chiudere un poco il "
    "by-pass.",
    "alarm.water-thin": "L'acqua della macchina è troppo dolce.",
    "alarm.water-thin.figures": "Circa {hardness}; il minimo previsto è {limit}.",
    "alarm.water-thin.cause": "Il by-pass è troppo chiuso, oppure l'acqua di rete è diventata più "
    "dolce.",
    "alarm.water-thin.consequence": "Il caffè risulta povero e acido.",
    "alarm.water-thin.do": "Fare un test a gocce dell'acqua della macchina; aprire un poco il "
    "by-pass.",
    "alarm.water-scaling": "L'acqua della macchina lascia calcare in caldaia.",
    "alarm.water-scaling.figures": "Indice di saturazione {si} a 95\u202f°C.",
    "alarm.water-scaling.cause": "Contiene più calcare di quanto l'acqua calda può trattenere.",
    "alarm.water-scaling.consequence": "Il calcare cresce dove l'acqua è più calda.",
    "alarm.water-scaling.do": "Fare un test a gocce di durezza e alcalinità; chiudere un poco il "
    "by-pass, oppure chiedere all'assistenza un'altra cartuccia.",
    "alarm.water-corrosive": "L'acqua della macchina può attaccare il metallo.",
    "alarm.water-corrosive.figures": "Alcalinità circa {alkalinity}, pH circa {ph}.",
    "alarm.water-corrosive.cause": "L'alcalinità è troppo bassa: il by-pass è troppo chiuso, "
    "oppure l'acqua di rete è diventata più dolce.",
    "alarm.water-corrosive.consequence": "Caldaie e tubi si corrodono; piombo, rame e nichel "
    "possono finire nella tazza.",
    "alarm.water-corrosive.do": "Fare un test a gocce dell'alcalinità; aprire un poco il by-pass.",
    "alarm.cold-water-warm": "L'acqua fredda è troppo calda.",
    "alarm.cold-water-warm.figures": "{temp}; il massimo previsto è {limit_temp}.",
    "alarm.cold-water-warm.cause": "Il tubo passa accanto a qualcosa di caldo, oppure vi rientra "
    "acqua calda.",
    "alarm.cold-water-warm.consequence": "Sopra i 25\u202f°C nell'acqua crescono germi.",
    "alarm.cold-water-warm.do": "Farla scorrere finché è fredda. Se resta calda, chiamare un "
    "idraulico.",
    "alarm.water-stood": "L'acqua è rimasta ferma troppo a lungo.",
    "alarm.water-stood.figures": "Ferma da {hours} ore; risciacquare con {flush}.",
    "alarm.water-stood.cause": "Per giorni non è stata prelevata acqua.",
    "alarm.water-stood.consequence": "Nell'acqua ferma si accumulano germi e metalli.",
    "alarm.water-stood.do": "Far scorrere l'acqua nello scarico prima di servirla.",
}

FLOW = {
    "alarm.leak": "Scorre acqua mentre il locale è chiuso.",
    "alarm.leak.figures": "{litres} nell'ultima ora.",
    "alarm.leak.cause": "Un tubo, una valvola o la macchina perde, oppure un rubinetto è rimasto "
    "aperto.",
    "alarm.leak.consequence": "Danni da acqua, e la cartuccia si consuma per nulla.",
    "alarm.leak.do": "Andare a vedere. Se non si trova la perdita, chiudere la valvola prima "
    "della cartuccia.",
    "alarm.no-flow": "Da ore non scorre acqua, benché il locale sia aperto.",
    "alarm.no-flow.figures": "Ore di apertura senz'acqua: {hours}.",
    "alarm.no-flow.cause": "Una valvola è chiusa, manca l'acqua di rete, oppure la macchina si "
    "riempie senza passare dalla cartuccia. O il locale è chiuso e nessuno lo ha segnalato.",
    "alarm.no-flow.consequence": "La macchina può restare a secco o riceve acqua non trattata.",
    "alarm.no-flow.do": "Prelevare una tazza. Se non si contano litri, controllare le valvole e "
    "il contalitri. Se il locale è chiuso, inserire la chiusura.",
    "alarm.flow-above-rating": "L'acqua viene prelevata troppo in fretta per la cartuccia.",
    "alarm.flow-above-rating.figures": "Fino a {flow}; la cartuccia è fatta per {limit_flow}.",
    "alarm.flow-above-rating.cause": "Prelevano insieme più macchine di quante la cartuccia "
    "regga, oppure una valvola di carico è troppo aperta.",
    "alarm.flow-above-rating.consequence": "Una parte della durezza passa attraverso la cartuccia.",
    "alarm.flow-above-rating.do": "Ridurre la portata di carico, oppure chiedere una cartuccia "
    "più grande.",
}

_PROBE_CASES = {
    "failure-no-reading": "La {meter} non dà alcuna misura.",
    "failure-dry": "La {meter} è a secco o il suo cavo è staccato.",
    "failure-short": "La {meter} è in cortocircuito.",
    "failure-no-temp": "Il termometro della {meter} è rotto.",
    "failure-stuck": "La {meter} mostra sempre lo stesso valore.",
    "out-of-specification-swapped": "Le sonde prima e dopo la cartuccia sembrano scambiate.",
    "out-of-specification-doubtful": "La {meter} dubita delle proprie misure.",
    "out-of-specification-warm": "L'acqua alla {meter} è più calda di quanto la sonda ammette.",
    "maintenance-required-clean": "La {meter} legge diversamente da prima, ma l'acqua è la "
    "stessa: va pulita.",
}

_PROBE_TOLD = {
    "failure": "La {meter} è guasta.",
    "failure.cause": "La sonda è a secco o rotta, oppure il suo cavo è staccato.",
    "failure.consequence": "La stima si basa solo su litri e test a gocce.",
    "failure.do": "Controllare il cavo e che la sonda sia immersa nell'acqua; "
    "altrimenti sostituirla.",
    "care": "La {meter} richiede manutenzione.",
    "care.cause": "È sporca, nel posto sbagliato, oppure lavora fuori dal suo campo.",
    "care.consequence": "La stima diventa meno sicura.",
    "care.do": "Controllare la sonda; pulirla e verificarla in una soluzione standard.",
}

METERS = {
    **probe_alarms(
        "sonda dopo la cartuccia", "sonda prima della cartuccia", _PROBE_CASES, _PROBE_TOLD
    ),
    "alarm.flow-meter-failure": "Il contalitri è guasto.",
    "alarm.flow-meter-failure.failure-no-reading": "Il contalitri non dà alcun conteggio.",
    "alarm.flow-meter-failure.cause": "È rotto, oppure il suo cavo è staccato.",
    "alarm.flow-meter-failure.consequence": "I litri non vengono contati; la stima diventa meno "
    "sicura.",
    "alarm.flow-meter-failure.do": "Controllare il cavo; altrimenti sostituirlo.",
    "alarm.flow-meter-care": "Il contalitri richiede manutenzione.",
    "alarm.flow-meter-care.out-of-specification-doubtful": "Il contalitri dubita del proprio "
    "conteggio.",
    "alarm.flow-meter-care.maintenance-required-resets": "Il contalitri ricomincia continuamente "
    "a contare da capo.",
    "alarm.flow-meter-care.cause": "L'alimentazione o il cavo si stacca di tanto in tanto.",
    "alarm.flow-meter-care.consequence": "Qualche litro può sfuggire al conteggio.",
    "alarm.flow-meter-care.do": "Controllare l'alimentazione e il cavo.",
}

BOX = {
    "alarm.data-gap": "Gli strumenti tacciono.",
    "alarm.data-gap.figures": "Nessuna misura da più di {minutes} minuti.",
    "alarm.data-gap.cause": "La centralina non ha alimentazione, oppure il suo cavo è staccato.",
    "alarm.data-gap.consequence": "La stima invecchia, e nessun guasto viene visto.",
    "alarm.data-gap.do": "Controllare l'alimentazione e il cavo della centralina.",
    "alarm.clock-unsure": "La centralina non sa che ora è.",
    "alarm.clock-unsure.cause": "Si è avviata senza rete e non ha un orologio proprio.",
    "alarm.clock-unsure.consequence": "Le misure attendono la loro data; la stima resta ferma.",
    "alarm.clock-unsure.do": "Controllare la rete della centralina.",
    "alarm.disk-low": "Alla centralina resta poco spazio per scrivere.",
    "alarm.disk-low.full": "Alla centralina non resta spazio per scrivere.",
    "alarm.disk-low.figures": "Spazio libero: {free}.",
    "alarm.disk-low.cause": "La scheda è troppo piccola, oppure la riempie qualcos'altro.",
    "alarm.disk-low.consequence": "Le misure vengono conservate sempre meno fitte, e alla fine "
    "non più.",
    "alarm.disk-low.do": "Liberare spazio, oppure inserire una scheda più grande.",
    "alarm.record-damaged": "L'archivio dei dati era danneggiato ed è stato riparato.",
    "alarm.record-damaged.cause": "La scheda o il disco si sta guastando, oppure è mancata la "
    "corrente durante la scrittura.",
    "alarm.record-damaged.consequence": "Una piccola parte dei dati può essere andata persa; il "
    "file danneggiato è conservato accanto. Un disco che si guasta una volta si guasta ancora.",
    "alarm.record-damaged.do": "Fare ora una copia di sicurezza e far sostituire la scheda o il "
    "disco.",
    "alarm.sink-behind": "I dati non vengono inviati.",
    "alarm.sink-behind.figures": "Nessun invio riuscito da {hours} ore.",
    "alarm.sink-behind.cause": "La rete è interrotta, oppure il ricevente non risponde.",
    "alarm.sink-behind.consequence": "Nulla va perso: i dati restano qui e vengono inviati più "
    "tardi. Chi controlla da lontano vede una situazione vecchia.",
    "alarm.sink-behind.do": "Controllare la rete; se il problema resta, avvisare l'assistenza.",
}

NOTICES = {
    "within.hour": "entro un'ora",
    "within.hours": "entro {n} ore",
    "within.day": "entro un giorno",
    "within.days": "entro {n} giorni",
    "notice.raised": "{site}: {title}",
    "notice.raised-line": "{site}, {line}: {title}",
    "notice.again": "Ancora così: {title}",
    "notice.escalated": "Nessuno ha risposto: {title}",
    "notice.cleared": "Non più così: {title}",
    "notice.several": "{site}: {n} messaggi",
    "notice.digest": "{site}: la situazione alle {clock} di {day}",
    "notice.digest-none": "Nessun allarme attivo.",
    "notice.digest-new": "Nuovi allarmi nell'ultimo giorno: {n}.",
    "notice.since": "Inizio: {moment}.",
    "notice.do": "Che cosa fare, {within}: {do}",
    "notice.why": "Causa probabile: {cause} Conseguenza: {consequence}",
    "notice.priority": "Priorità: {priority}.",
    "notice.seen": "Riconosciuto.",
    "notice.not-seen": "Non riconosciuto.",
}

TEXTS = {**HARDNESS, **WATER, **FLOW, **METERS, **BOX, **NOTICES}
