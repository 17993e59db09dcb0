"""Italian: what commands say in a terminal - status, logbook, meters, replay, backup."""

from __future__ import annotations

COMMANDS = {
    "status.file": "{path}: righe numerate fino a {newest}, {used} MB su {limit} MB con tutto ciò "
    "che sta accanto.",
    "status.thinned": "Linea {line}: le misure prima di {day} sono conservate come valori al "
    "minuto.",
    "status.sink": "Destinazione {sink}: confermate fino alla riga {row}, da inviare: {waiting}.",
    "status.refused.one": "Una riga è stata rifiutata ed è conservata a parte:",
    "status.refused.many": "{n} righe sono state rifiutate e sono conservate a parte:",
    "status.reason": "{n} x {reason} (ultima: riga {row})",
    "status.more.one": "e un altro motivo.",
    "status.more.many": "e altri {n} motivi.",
    "status.counted": "Conteggio {name}: {n}",
    "note.written": "Voce {n}, firmata {who}.",
    "paper.written": "{path}: {size} kB",
    "record.copied": "{path}: {size} MB, ogni pagina verificata, righe fino al numero {newest}.",
    "record.aside": "L'archivio che c'era è ora {path}.",
    "record.restored": "{record} è stato ripristinato da {backup}; le righe nuove si numerano da "
    "{newest}.",
}

METERS = {
    "scan.port": "porta {port}",
    "scan.port-now": "porta {port} (ora {device})",
    "scan.none": "A nessuna porta seriale è collegato qualcosa.",
    "scan.none-mend": "È un cavo dati? Indicare una porta per cercare comunque: meters scan PORT",
    "scan.nothing": "nessuna risposta.",
    "scan.asked": "Richiesti: un nodo, testo, unità Modbus {span}. Un dispositivo con altra unità "
    "o velocità?",
    "scan.try": "Provare: --units 1-247, --baud 4800; scambiare A e B; è acceso?",
    "scan.answers": "risponde: {said}",
    "scan.next": "Poi: inserire questo nel file della sede, quindi: lastlitre check SITE.toml",
    "scan.busy": "La sede è in funzione e occupa le porte.",
    "scan.next-watch": "Poi: lastlitre meters watch {path}",
    "scan.meter": "{meter} su {port}: {said}",
    "scan.rows": "{n} righe",
    "scan.silent": "muto",
    "watch.here": "{site}, strumenti letti qui. Conducibilità come letta, non riferita a "
    "25\u202f°C.",
    "watch.file": "{site}, la sede è in funzione: lettura dal suo file. Conducibilità come letta, "
    "non riferita a 25\u202f°C.",
    "watch.head.time": "ora",
    "watch.head.meter": "strumento",
    "watch.head.outlet": "uscita",
    "watch.head.inlet": "ingresso",
    "watch.head.pulses": "impulsi",
    "watch.head.age": "età",
    "watch.head.rate": "righe/min",
    "watch.head.quality": "qualità",
    "watch.silent": "nessun dato entro {seconds} s; provare: lastlitre meters scan",
    "watch.good": "buona",
    "watch.old": "vecchia",
    "watch.outlet-doubtful": "uscita dubbia",
    "watch.inlet-doubtful": "ingresso dubbio",
    "watch.flow-doubtful": "portata dubbia",
    "watch.clock-not-set": "orologio non regolato",
    "watch.counter-anew": "contatore ripartito",
    "watch.simulated": "strumento non reale",
}

REPLAY = {
    "replay.line": "{site}, linea {line}: cartuccia {medium}",
    "replay.no-rows": "La registrazione non ha righe utilizzabili.",
    "replay.rows": "{rows} righe in {days} giorni (da {first} a {last}), {draws} prelievi, "
    "{litres} L dalla testata; lette in {seconds} s ({rate} righe/s).",
    "replay.bad-lines.one": "Una riga non si è potuta leggere ed è stata tralasciata.",
    "replay.bad-lines.many": "{n} righe non si sono potute leggere e sono state tralasciate.",
    "replay.backwards.one": "Una riga tornava indietro nel tempo ed è stata tralasciata.",
    "replay.backwards.many": "{n} righe tornavano indietro nel tempo e sono state tralasciate.",
    "replay.leaps.one": "Una riga saltava molto avanti nel tempo ed è stata tralasciata.",
    "replay.leaps.many": "{n} righe saltavano molto avanti nel tempo e sono state tralasciate.",
    "replay.cut-short": "Il file è troncato; è stato usato ciò che c'era.",
    "replay.nothing-known": "Nessuna stima: non c'era nulla di noto da pesare.",
    "replay.end": "Alla fine, {day}:",
    "replay.left": "litri rimanenti fino alla fine della capacità: {litres}",
    "replay.days": "giorni rimanenti: {days}, probabilmente fino a {day}",
    "replay.hardness.total": "durezza totale alla macchina: {hardness}",
    "replay.hardness.carbonate": "durezza temporanea alla macchina: {hardness}",
    "replay.hardness.calcium": "durezza calcica alla macchina: {hardness}",
    "replay.rests": "la stima si basa su litri {litres}, conducibilità {conductivity}, test a "
    "gocce {tests}",
    "replay.no-alarm": "Nessun allarme è scattato.",
    "replay.alarms": "Allarmi scattati: {names}.",
    "replay.none": "nessuno",
    "replay.written": "Scritti: {estimates}, {alarms}",
}

TEXTS = {**COMMANDS, **METERS, **REPLAY}
