"""Italian: calibrating meters in a terminal, step by step."""

from __future__ import annotations

TEXTS = {
    "calibrate.begin": "Taratura della linea {line}, sede {site}.",
    "calibrate.direct": "Gli strumenti sono letti da questo comando; nel frattempo non avviare la "
    "sede.",
    "calibrate.beside": "La sede è in funzione: le letture arrivano dal suo file, non serve "
    "fermare nulla.",
    "calibrate.leave": "Si può uscire in ogni momento con Ctrl-C; ciò che è fatto si conserva per "
    "un giorno.",
    "calibrate.end": "Fatto. Per vedere che cosa dicono ora gli strumenti: lastlitre meters "
    "watch, poi lastlitre logbook",
    "calibrate.dry": "Sonda a secco",
    "calibrate.standard": "Soluzione standard di KCl",
    "calibrate.cross-zero": "Entrambe le sonde nella stessa acqua",
    "calibrate.jugs": "Caraffe misurate",
    "calibrate.done-already": "{title}: già fatto. Rifare",
    "calibrate.dry.do.outlet": "Togliere la sonda in uscita dall'acqua e scuoterla finché è "
    "asciutta.",
    "calibrate.dry.do.inlet": "Togliere la sonda in ingresso dall'acqua e scuoterla finché è "
    "asciutta.",
    "calibrate.dry.reads": "legge {found} µS/cm (± {sd})",
    "calibrate.dry.not": "Non è asciutta: una goccia tra gli elettrodi, o una dispersione nel "
    "cavo. Asciugarla e rifare questo passo: --step dry",
    "calibrate.standard.care": "La soluzione standard non deve finire nell'acqua potabile: "
    "sciacquare bene la sonda prima di rimetterla, e risciacquare la linea prima che qualcuno ne "
    "beva.",
    "calibrate.standard.label": "Valore stampato sulla soluzione standard, µS/cm a 25\u202f°C",
    "calibrate.standard.do.outlet": "Sciacquare la sonda in uscita con soluzione standard, poi "
    "immergerla in soluzione standard fresca.",
    "calibrate.standard.do.inlet": "Sciacquare la sonda in ingresso con soluzione standard, poi "
    "immergerla in soluzione standard fresca.",
    "calibrate.standard.temp": "Temperatura della soluzione standard con un termometro, °C (la "
    "sonda: {found})",
    "calibrate.standard.true": "vero {true} µS/cm, letto {read}",
    "calibrate.standard.much": "legge {off}\u202f% in più (± {sd}\u202f%)",
    "calibrate.standard.little": "legge {off}\u202f% in meno (± {sd}\u202f%)",
    "calibrate.standard.gain": "guadagno {gain}: la costante di cella è tante volte quella "
    "dichiarata",
    "calibrate.standard.far": "È lontano da 1: una soluzione sbagliata, una costante di cella "
    "sbagliata nel file della sede, una bolla o sporco nella cella. Pulirla e rifare questo passo.",
    "calibrate.standard.note": "meters calibrate: a secco e una soluzione standard di KCl",
    "calibrate.zero.both": "Mettere entrambe le sonde in una caraffa di acqua grezza (o aprire "
    "del tutto il by-pass e far scorrere).",
    "calibrate.zero.one": "Far arrivare acqua grezza alla sonda in uscita (aprire del tutto il "
    "by-pass, o usarne una caraffa).",
    "calibrate.zero.no-temp": "Una sonda non dà la temperatura: senza, questo passo non dice "
    "nulla.",
    "calibrate.zero.outlet": "uscita {found} µS/cm a 25\u202f°C",
    "calibrate.zero.inlet": "ingresso {found} µS/cm a 25\u202f°C",
    "calibrate.zero.apart": "la sonda in uscita legge {apart}\u202f% rispetto alla sonda in "
    "ingresso",
    "calibrate.zero.far": "È molto: sono entrambe nella stessa acqua, senza bolle?",
    "calibrate.zero.note": "meters calibrate",
    "calibrate.jugs.no-meter": "Questa linea non ha un contalitri.",
    "calibrate.jugs.ready-full": "Caraffa {n} a piena portata: aprire tutto il rubinetto. Pronto",
    "calibrate.jugs.ready-brew": "Caraffa {n} alla portata di un'estrazione: un filo d'acqua, "
    "come preleva un gruppo. Pronto",
    "calibrate.jugs.fill": "Riempire ora una caraffa; premere Invio quando il rubinetto è chiuso.",
    "calibrate.jugs.litres": "Quanti litri contiene",
    "calibrate.jugs.one": "{n} impulsi: {k} impulsi/L, {flow} L/min",
    "calibrate.jugs.no-pulse": "Nessun impulso: il contalitri è collegato, l'acqua ci passa?",
    "calibrate.jugs.full": "piena portata: {k} a {flow} L/min",
    "calibrate.jugs.brew": "filo d'acqua: {k} a {flow} L/min",
    "calibrate.jugs.both": "per entrambe insieme: {k}",
    "calibrate.jugs.not-thin": "Non era un filo d'acqua: che cosa accade con poca acqua resta non "
    "noto.",
    "calibrate.jugs.full-only": "Del filo d'acqua, dove le piccole turbine contano troppo poco, "
    "non si sa nulla: l'intervallo è allargato: {k}",
    "calibrate.jugs.k": "{k} impulsi/L ± {sd}\u202f%",
    "calibrate.jugs.apart": "Tra queste caraffe lo scarto è {apart}\u202f%: una è sbagliata.",
    "calibrate.jugs.never": "Non concordano mai: si rifanno tutte. La turbina è intasata?",
    "calibrate.jugs.left-out": "{k} impulsi/L resta escluso; prelevarne un'altra.",
    "calibrate.jugs.slip": "sotto {flow} L/min (± {sd}) la turbina resta ferma",
    "calibrate.jugs.silent": "Il contatore non dice nulla. {fault}",
    "calibrate.jugs.note": "meters calibrate: {full} caraffe a piena portata, {brew} a filo "
    "d'acqua",
    "calibrate.try-again": "Riprovare",
    "calibrate.waiting": "attesa di una lettura stabile ...",
    "calibrate.silent.outlet": "La sonda in uscita non dice nulla. {fault}",
    "calibrate.silent.inlet": "La sonda in ingresso non dice nulla. {fault}",
    "calibrate.moves": "Si muove ancora dopo {seconds} s ({found} µS/cm).",
    "calibrate.take": "Prenderla così",
    "calibrate.try-watch": "Provare: lastlitre meters watch SITE.toml",
    "calibrate.no-number": "{said}: inserire un numero da {low} a {high}.",
    "calibrate.keep": "Conservare",
    "calibrate.not-kept": "Non conservato.",
    "calibrate.kept": "Conservato: voce {n} del registro.",
    "calibrate.enter": "{text} [Invio]",
}
