"""Italian: what each fault is and how to mend it, a text a code of `analytics.diagnosis.faults`."""

from __future__ import annotations

_BY_CODE = {
    "clock-wrong": "La centralina ha l'ora sbagliata.",
    "clock-wrong.do": "Controllare la rete e il fuso orario: appena c'è rete, la centralina "
    "regola l'orologio da sola.",
    "data-gap": "Gli strumenti hanno taciuto.",
    "data-gap.do": "Controllare l'alimentazione e il cavo della centralina.",
    "no-reading": "Uno strumento non dà alcuna misura.",
    "no-reading.do": "Controllare il cavo; altrimenti sostituire lo strumento.",
    "cell-dry": "Una sonda legge quasi nulla: è a secco o il suo cavo è staccato.",
    "cell-dry.do": "Verificare che sia immersa nell'acqua e che il connettore sia ben inserito.",
    "cell-short": "Una sonda legge più di qualsiasi acqua: è in cortocircuito.",
    "cell-short.do": "Asciugare il connettore e cercare un cavo schiacciato; altrimenti "
    "sostituirla.",
    "thermometer": "Il termometro di una sonda non può essere giusto.",
    "thermometer.do": "Controllare il cavo; altrimenti sostituire la sonda.",
    "probe-stuck": "Una sonda mostra sempre lo stesso valore.",
    "probe-stuck.do": "Togliere e ridare alimentazione; altrimenti sostituirla.",
    "probes-exchanged": "Le sonde prima e dopo la cartuccia sono scambiate.",
    "probes-exchanged.do": "Scambiare i cavi o le posizioni.",
    "bubbles": "Davanti a una sonda passano bolle: la lettura cade di continuo mentre l'acqua "
    "scorre.",
    "bubbles.do": "Spurgare l'aria dalla linea e girare la sonda in modo che le bolle salgano "
    "oltre.",
    "readings-doubted": "Uno strumento dubita delle proprie misure.",
    "readings-doubted.do": "Controllare il cavo e pulire lo strumento.",
    "film": "Su una sonda cresce una pellicola: legge ogni giorno più basso.",
    "film.do": "Pulire la sonda, poi leggere entrambe le sonde in acqua grezza.",
    "flow-meter-stuck": "L'acqua scorre, ma il contalitri non conta.",
    "flow-meter-stuck.do": "Controllare il cavo e che la turbina giri; altrimenti sostituirlo.",
    "counter-anew": "Il contalitri ricomincia continuamente a contare da capo.",
    "counter-anew.do": "Controllare l'alimentazione e il cavo.",
    "pulses-lost": "Il contalitri perde impulsi: ogni prelievo conta meno di prima.",
    "pulses-lost.do": "Controllare il cavo e pulire la turbina, poi verificarlo con la caraffa.",
    "pulses-doubled": "Il contalitri conta doppio.",
    "pulses-doubled.do": "Controllare la schermatura del cavo e il filtro dell'ingresso, poi "
    "verificarlo con la caraffa.",
    "k-factor-off": "Il fattore K del contalitri non corrisponde ai litri letti a mano.",
    "k-factor-off.do": "Verificarlo con la caraffa e inserire di nuovo il fattore K.",
    "leak": "Scorre acqua mentre il locale è chiuso.",
    "leak.do": "Andare a vedere; se non si trova la perdita, chiudere la valvola prima della "
    "cartuccia.",
    "no-flow": "Nella cartuccia non scorre acqua, benché il locale sia aperto: una valvola è "
    "chiusa, manca l'acqua di rete, oppure la macchina si riempie senza passare dalla cartuccia.",
    "no-flow.do": "Prelevare una tazza e controllare le valvole.",
    "cartridge-unannounced": "Sembra che la cartuccia sia stata cambiata senza segnalarlo.",
    "cartridge-unannounced.do": "Inserire il cambio e il suo giorno.",
    "bypass-moved": "Sembra che il by-pass sia stato girato.",
    "bypass-moved.do": "Controllare la regolazione sulla testata, poi fare un test a gocce.",
    "raw-water-changed": "Dalla rete arriva un'acqua diversa.",
    "raw-water-changed.do": "Fare un test a gocce dell'acqua grezza.",
    "calibration": "Uno strumento è in verifica.",
    "calibration.do": "Nulla da fare: entro un'ora misura di nuovo.",
}

TEXTS = {
    "alarm.fault-found": "C'è qualcosa che non va negli strumenti o nella linea.",
    "alarm.fault-found.cause": "Le misure ne portano il segno.",
    "alarm.fault-found.consequence": "La stima diventa meno sicura.",
    "alarm.fault-found.do": "Controllare gli strumenti e i loro cavi.",
} | {f"alarm.fault-found.{key}": text for key, text in _BY_CODE.items()}
