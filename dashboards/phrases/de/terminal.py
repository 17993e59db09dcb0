"""German: what commands say in a terminal - status, logbook, meters, replay, backup."""

from __future__ import annotations

COMMANDS = {
    "status.file": "{path}: Zeilen bis Nummer {newest}, {used} MB von {limit} MB samt allem, was "
    "daneben liegt.",
    "status.thinned": "Linie {line}: Messwerte vor dem {day} sind als Minutenwerte aufbewahrt.",
    "status.sink": "Empfänger {sink}: bestätigt bis Zeile {row}, noch {waiting} zu senden.",
    "status.refused.one": "Eine Zeile wurde abgelehnt und liegt beiseite:",
    "status.refused.many": "{n} Zeilen wurden abgelehnt und liegen beiseite:",
    "status.reason": "{n} x {reason} (zuletzt: Zeile {row})",
    "status.more.one": "und ein weiterer Grund.",
    "status.more.many": "und {n} weitere Gründe.",
    "status.counted": "Gezählt {name}: {n}",
    "note.written": "Eintrag {n}, gezeichnet {who}.",
    "paper.written": "{path}: {size} kB",
    "record.copied": "{path}: {size} MB, jede Seite geprüft, Zeilen bis Nummer {newest}.",
    "record.aside": "Die bisherige Aufzeichnung ist jetzt {path}.",
    "record.restored": "{record} ist aus {backup} wiederhergestellt; neue Zeilen zählen ab "
    "{newest}.",
}

METERS = {
    "scan.port": "Anschluss {port}",
    "scan.port-now": "Anschluss {port} (jetzt {device})",
    "scan.none": "An keinem seriellen Anschluss steckt etwas.",
    "scan.none-mend": "Ist das Kabel ein Datenkabel? Nennen Sie einen Anschluss, um dort trotzdem "
    "zu suchen: meters scan PORT",
    "scan.nothing": "nichts antwortet.",
    "scan.asked": "Gefragt wurde: ein Messknoten, Text, Modbus-Adressen {span}. Ein Gerät mit "
    "anderer Adresse oder Geschwindigkeit?",
    "scan.try": "Versuchen Sie: --units 1-247, --baud 4800; A und B tauschen; ist es "
    "eingeschaltet?",
    "scan.answers": "antwortet: {said}",
    "scan.next": "Als Nächstes: Setzen Sie dies in die Standortdatei, dann: lastlitre check "
    "SITE.toml",
    "scan.busy": "Die Anlage läuft und belegt die Anschlüsse.",
    "scan.next-watch": "Als Nächstes: lastlitre meters watch {path}",
    "scan.meter": "{meter} an {port}: {said}",
    "scan.rows": "{n} Zeilen",
    "scan.silent": "schweigt",
    "watch.here": "{site}, Messgeräte hier gelesen. Leitfähigkeit wie angezeigt, nicht auf 25 °C "
    "bezogen.",
    "watch.file": "{site}, die Anlage läuft: aus ihrer Datei gelesen. Leitfähigkeit wie angezeigt, "
    "nicht auf 25 °C bezogen.",
    "watch.head.time": "Zeit",
    "watch.head.meter": "Gerät",
    "watch.head.outlet": "Ausgang",
    "watch.head.inlet": "Eingang",
    "watch.head.pulses": "Impulse",
    "watch.head.age": "Alter",
    "watch.head.rate": "Zeilen/min",
    "watch.head.quality": "Güte",
    "watch.silent": "lieferte {seconds} s lang nichts; versuchen Sie: lastlitre meters scan",
    "watch.good": "gut",
    "watch.old": "alt",
    "watch.outlet-doubtful": "Ausgang fraglich",
    "watch.inlet-doubtful": "Eingang fraglich",
    "watch.flow-doubtful": "Durchfluss fraglich",
    "watch.clock-not-set": "Uhr nicht gestellt",
    "watch.counter-anew": "Zähler begann neu",
    "watch.simulated": "kein echtes Gerät",
}

REPLAY = {
    "replay.line": "{site}, Linie {line}, Kartusche: {medium}",
    "replay.no-rows": "Die Aufzeichnung hat keine brauchbaren Zeilen.",
    "replay.rows": "{rows} Zeilen über {days} Tage ({first} bis {last}), {draws} Entnahmen, "
    "{litres} L durch den Filterkopf; gelesen in {seconds} s ({rate} Zeilen/s).",
    "replay.bad-lines.one": "Eine Zeile war nicht lesbar und wurde ausgelassen.",
    "replay.bad-lines.many": "{n} Zeilen waren nicht lesbar und wurden ausgelassen.",
    "replay.backwards.one": "Eine Zeile lief in der Zeit rückwärts und wurde ausgelassen.",
    "replay.backwards.many": "{n} Zeilen liefen in der Zeit rückwärts und wurden ausgelassen.",
    "replay.leaps.one": "Eine Zeile sprang in der Zeit weit voraus und wurde ausgelassen.",
    "replay.leaps.many": "{n} Zeilen sprangen in der Zeit weit voraus und wurden ausgelassen.",
    "replay.cut-short": "Die Datei bricht ab; was da war, wurde verwendet.",
    "replay.nothing-known": "Keine Schätzung: Es war nichts bekannt, was sich abwägen ließe.",
    "replay.end": "Am Ende, {day}:",
    "replay.left": "Liter bis zum Ende der Kapazität: {litres}",
    "replay.days": "Tage übrig: {days}, voraussichtlich bis {day}",
    "replay.hardness.total": "Gesamthärte zur Maschine: {hardness}",
    "replay.hardness.carbonate": "Karbonathärte zur Maschine: {hardness}",
    "replay.hardness.calcium": "Calciumhärte zur Maschine: {hardness}",
    "replay.rests": "die Angabe stützt sich auf Liter {litres}, Leitfähigkeit {conductivity}, "
    "Tropfentests {tests}",
    "replay.no-alarm": "Kein Alarm trat auf.",
    "replay.alarms": "Aufgetretene Alarme: {names}.",
    "replay.none": "keine",
    "replay.written": "Geschrieben: {estimates}, {alarms}",
}

TEXTS = {**COMMANDS, **METERS, **REPLAY}
