"""Italian: the wiring guide."""

from __future__ import annotations

TEXTS = {
    "wiring.title": "Collegamenti",
    "wiring.title-what": "Come collegare sonde, termometri e turbine al nodo, con le avvertenze.",
    "wiring.first": "Collegare gli strumenti.",
    "wiring.then": "Una piccola scheda legge una o due sonde di conducibilità, con un termometro "
    "ciascuna, e uno o due contalitri a turbina, e invia tutto su un solo cavo.",
    "wiring.next": "Leggere le avvertenze prima di aprire un tubo o una scatola.",
    "wiring.electric": "Elettricità",
    "wiring.electric-note": "prima di toccare un filo",
    "wiring.electric.1": "Staccare la spina della scheda, e di tutto ciò a cui è collegata, prima "
    "di toccare un filo.",
    "wiring.electric.2": "Nella zona bagnata solo bassissima tensione: al massimo 5\u202fV, da un "
    "alimentatore a doppio isolamento (bassissima tensione di sicurezza, SELV). Qui nulla apre o "
    "collega un filo della rete elettrica: è lavoro da elettricista.",
    "wiring.electric.3": "La scheda e ogni giunzione stanno in una scatola chiusa, all'asciutto, "
    "più in alto del tubo. Ogni cavo fa un'ansa verso il basso prima di entrare, così le gocce "
    "cadono.",
    "wiring.electric.4": "Il telaio della macchina è collegato a terra e l'acqua lo tocca. "
    "Alimentare la scheda in modo che nessuna corrente possa andare da terra a una sonda "
    "attraverso l'acqua: un alimentatore senza contatto di terra, e un isolatore nel cavo USB se "
    "il computer è collegato a terra. Una corrente estranea falsa la lettura; l'autotest la "
    "segnala.",
    "wiring.food": "Acqua potabile",
    "wiring.food-note": "prima di aprire un tubo",
    "wiring.food.1": "L'acqua della macchina è un alimento. Ogni parte a contatto deve essere "
    "fatta e approvata per l'acqua potabile nel luogo di installazione (nell'Unione europea: "
    "direttiva (UE) 2020/2184, articolo 11; in Nord America: NSF/ANSI/CAN 61).",
    "wiring.food.2": "Elettrodi in acciaio inox 1.4404 (316L) o grafite. Niente stagno, niente "
    "flussante, nessun elettrodo in ottone, niente colla nell'acqua.",
    "wiring.food.3": "I termometri restano fuori dall'acqua: in un pozzetto, o fissati al tubo "
    "sotto isolamento.",
    "wiring.food.4": "Pressione di rete, protezione dal riflusso e giunti su una tubazione di "
    "acqua potabile: norme locali e un idraulico abilitato. Mani pulite e parti pulite; "
    "risciacquare dieci litri allo scarico prima che la macchina riceva di nuovo acqua.",
    "wiring.places": "Posizioni",
    "wiring.places-note": "che cosa va dove",
    "wiring.places-drawn": "Da sinistra a destra: valvola di arresto, turbina, sonda in ingresso, "
    "testata del filtro con il by-pass, sonda in uscita, macchina. Sopra, all'asciutto, la scheda "
    "nella sua scatola.",
    "wiring.dry": "zona asciutta",
    "wiring.wet": "zona bagnata",
    "wiring.board": "scheda",
    "wiring.to-host": "al computer",
    "wiring.place.1": "valvola di arresto",
    "wiring.place.2": "turbina, prima della testata, con la freccia nel verso del flusso: conta "
    "tutta l'acqua, anche il by-pass",
    "wiring.place.3": "sonda in ingresso e termometro (si possono omettere: impostare allora "
    "probes a 1)",
    "wiring.place.4": "testata del filtro e cartuccia",
    "wiring.place.5": "sonda in uscita e termometro, dopo il by-pass, dove l'acqua sale oltre gli "
    "elettrodi così che le bolle escano",
    "wiring.place.6": "macchina",
    "wiring.two-probes": "Due sonde nello stesso tubo vedono l'una la corrente dell'altra. La "
    "scheda le legge a turno e libera ogni pin di una mentre alimenta l'altra. Due strumenti che "
    "alimentano di continuo vanno isolati galvanicamente tra loro, ciascuno con un proprio "
    "alimentatore.",
    "wiring.probe": "Una sonda",
    "wiring.probe-note": "nel disegno: la sonda in uscita",
    "wiring.probe-drawn": "Tre pin vanno, ciascuno attraverso una resistenza, a un nodo comune. "
    "Il nodo va al pin ADC e a un elettrodo. L'altro elettrodo va a un quarto pin.",
    "wiring.probe.1": "Due elettrodi nudi con costante di cella di circa 1 per cm, e tre "
    "resistenze all'1\u202f%. La scheda alimenta la sonda in un verso tanto quanto nell'altro, "
    "così che sugli elettrodi non resti carica, e usa la resistenza adatta all'acqua.",
    "wiring.probe.2": "Cavo a due conduttori con schermo, al massimo tre metri; lo schermo a "
    "massa solo dalla parte della scheda.",
    "wiring.probe.3": "La costante di cella propria della sonda si inserisce in LastLitre, non "
    "nella scheda.",
    "wiring.rest": "Gli altri",
    "wiring.rest-note": "termometri e turbine",
    "wiring.rest-drawn": "Un termometro a un filo su alimentazione, dati e massa, con una "
    "resistenza tra dati e alimentazione. Una turbina su alimentazione, impulsi e massa.",
    "wiring.cell": "cella",
    "wiring.thermometer": "termometro",
    "wiring.supply": "3,3\u202fV",
    "wiring.pull-up": "4,7\u202fkΩ",
    "wiring.turbine": "turbina",
    "wiring.rest.1": "Termometri digitali a un filo da 12 bit, ciascuno sul proprio pin, così che "
    "un cavo rotto ne zittisca uno solo e nessuno si possa scambiare per l'altro.",
    "wiring.rest.2": "Turbine con uscita a collettore aperto; la scheda fornisce il pull-up. "
    "Un'uscita che dà 5\u202fV richiede un partitore (10 e 20 kiloohm): i pin sopportano "
    "3,3\u202fV.",
    "wiring.rest.3": "Gli impulsi per litro si misurano con una caraffa e si inseriscono in "
    "LastLitre.",
    "wiring.pins": "Pin",
    "wiring.pins-note": "come da programma fornito; modificare settings.py",
    "wiring.pin.outlet": "sonda in uscita: resistenze, elettrodo lontano, ADC",
    "wiring.pin.inlet": "sonda in ingresso: resistenze, elettrodo lontano, ADC",
    "wiring.pin.ohms": "resistenze, nell'ordine dei loro pin",
    "wiring.pin.thermometers": "termometri: uscita, ingresso",
    "wiring.pin.turbine": "turbina (una seconda: qualsiasi pin libero)",
    "wiring.pin.stop": "collegare a massa all'avvio per raggiungere la scheda con un terminale",
    "wiring.program": "Programma",
    "wiring.program.1": "lastlitre firmware FOLDER scrive il programma della scheda in una "
    "cartella, con un testo su come copiarlo sulla scheda.",
    "wiring.program.2": "Il programma così scritto è provato su parti virtuali e in un interprete "
    "reale; nessuna prova può verificare le saldature. Fare la taratura prima di fidarsi di un "
    "valore.",
}
