"""German: what each fault is and how to mend it, a text a code of `analytics.diagnosis.faults`."""

from __future__ import annotations

_BY_CODE = {
    "clock-wrong": "Die Messbox hat die falsche Uhrzeit.",
    "clock-wrong.do": "Prüfen Sie ihr Netz und ihre Zeitzone: Sobald sie ein Netz hat, stellt sie "
    "ihre Uhr selbst.",
    "data-gap": "Die Messgeräte haben geschwiegen.",
    "data-gap.do": "Prüfen Sie Strom und Kabel der Messbox.",
    "no-reading": "Ein Messgerät liefert keinen Messwert.",
    "no-reading.do": "Prüfen Sie das Kabel; sonst ersetzen Sie das Gerät.",
    "cell-dry": "Eine Sonde zeigt fast nichts an: Sie ist trocken, oder ihr Kabel ist ab.",
    "cell-dry.do": "Sehen Sie nach, ob sie im Wasser sitzt und ihr Stecker fest ist.",
    "cell-short": "Eine Sonde zeigt mehr an, als Wasser haben kann: Sie hat einen Kurzschluss.",
    "cell-short.do": "Trocknen Sie den Stecker und suchen Sie nach einem gequetschten Kabel; sonst "
    "ersetzen Sie die Sonde.",
    "thermometer": "Der Temperaturfühler einer Sonde kann nicht stimmen.",
    "thermometer.do": "Prüfen Sie das Kabel; sonst ersetzen Sie die Sonde.",
    "probe-stuck": "Eine Sonde zeigt immer dasselbe an.",
    "probe-stuck.do": "Schalten Sie ihren Strom aus und wieder ein; sonst ersetzen Sie sie.",
    "probes-exchanged": "Die Sonden vor und hinter der Kartusche sind vertauscht.",
    "probes-exchanged.do": "Tauschen Sie die Kabel oder die Plätze.",
    "bubbles": "An einer Sonde ziehen Luftblasen vorbei: Ihr Wert fällt immer wieder, während "
    "Wasser fließt.",
    "bubbles.do": "Entlüften Sie die Leitung und drehen Sie die Sonde so, dass Blasen an ihr "
    "vorbei aufsteigen.",
    "readings-doubted": "Ein Messgerät zweifelt an seinen eigenen Werten.",
    "readings-doubted.do": "Prüfen Sie das Kabel und reinigen Sie das Gerät.",
    "film": "Auf einer Sonde wächst ein Belag: Sie zeigt von Tag zu Tag weniger an.",
    "film.do": "Reinigen Sie die Sonde und vergleichen Sie dann beide Sonden in Rohwasser.",
    "flow-meter-stuck": "Wasser fließt, aber der Durchflussmesser zählt nicht.",
    "flow-meter-stuck.do": "Prüfen Sie das Kabel und ob sich das Flügelrad dreht; sonst ersetzen "
    "Sie ihn.",
    "counter-anew": "Der Durchflussmesser beginnt immer wieder von vorn zu zählen.",
    "counter-anew.do": "Prüfen Sie Versorgung und Kabel.",
    "pulses-lost": "Der Durchflussmesser verliert Impulse: Jede Entnahme zählt weniger als früher.",
    "pulses-lost.do": "Prüfen Sie das Kabel, reinigen Sie das Flügelrad und prüfen Sie ihn dann "
    "mit dem Messbecher.",
    "pulses-doubled": "Der Durchflussmesser zählt doppelt.",
    "pulses-doubled.do": "Prüfen Sie den Schirm des Kabels und das Filter des Eingangs und prüfen "
    "Sie ihn dann mit dem Messbecher.",
    "k-factor-off": "Der K-Faktor des Durchflussmessers passt nicht zu den von Hand abgelesenen "
    "Litern.",
    "k-factor-off.do": "Prüfen Sie ihn mit dem Messbecher und tragen Sie den K-Faktor neu ein.",
    "leak": "Wasser läuft, obwohl geschlossen ist.",
    "leak.do": "Gehen Sie hin und sehen Sie nach; finden Sie die Stelle nicht, schließen Sie das "
    "Absperrventil vor der Kartusche.",
    "no-flow": "Durch die Kartusche läuft kein Wasser, obwohl geöffnet ist: Ein Ventil ist zu, die "
    "Hauptleitung ist abgestellt oder die Maschine wird an ihr vorbei gefüllt.",
    "no-flow.do": "Ziehen Sie eine Tasse und sehen Sie nach den Ventilen.",
    "cartridge-unannounced": "Die Kartusche scheint ohne Meldung gewechselt worden zu sein.",
    "cartridge-unannounced.do": "Tragen Sie den Wechsel mit seinem Tag ein.",
    "bypass-moved": "Der Verschnitt scheint verstellt worden zu sein.",
    "bypass-moved.do": "Sehen Sie nach der Einstellung am Filterkopf und machen Sie dann einen "
    "Tropfentest.",
    "raw-water-changed": "Aus dem Leitungsnetz kommt anderes Wasser.",
    "raw-water-changed.do": "Machen Sie einen Tropfentest vom Rohwasser.",
    "calibration": "Ein Messgerät wird gerade geprüft.",
    "calibration.do": "Nichts zu tun: Innerhalb einer Stunde misst es wieder.",
}

TEXTS = {
    "alarm.fault-found": "Mit den Messgeräten oder der Linie stimmt etwas nicht.",
    "alarm.fault-found.cause": "Die Messwerte zeigen das Muster eines Fehlers.",
    "alarm.fault-found.consequence": "Die Angabe wird unsicherer.",
    "alarm.fault-found.do": "Sehen Sie nach den Messgeräten und ihren Kabeln.",
} | {f"alarm.fault-found.{key}": text for key, text in _BY_CODE.items()}
