"""German: calibrating meters in a terminal, step by step."""

from __future__ import annotations

TEXTS = {
    "calibrate.begin": "Kalibrierung der Linie {line}, {site}.",
    "calibrate.direct": "Dieser Befehl liest die Messgeräte selbst; starten Sie die Anlage "
    "währenddessen nicht.",
    "calibrate.beside": "Die Anlage läuft: Die Messwerte kommen aus ihrer Datei, nichts muss "
    "angehalten werden.",
    "calibrate.leave": "Mit Strg-C können Sie jederzeit aufhören; was erledigt ist, bleibt einen "
    "Tag erhalten.",
    "calibrate.end": "Fertig. Sehen Sie, was die Messgeräte jetzt sagen: lastlitre meters watch, "
    "dann lastlitre logbook",
    "calibrate.dry": "Sonde trocken",
    "calibrate.standard": "KCl-Standard",
    "calibrate.cross-zero": "Beide Sonden in einem Wasser",
    "calibrate.jugs": "Messbecher",
    "calibrate.done-already": "{title}: schon erledigt. Noch einmal",
    "calibrate.dry.do.outlet": "Nehmen Sie die Ausgangssonde aus dem Wasser und schütteln Sie sie "
    "trocken.",
    "calibrate.dry.do.inlet": "Nehmen Sie die Eingangssonde aus dem Wasser und schütteln Sie sie "
    "trocken.",
    "calibrate.dry.reads": "zeigt {found} µS/cm (± {sd})",
    "calibrate.dry.not": "Das ist nicht trocken: ein Tropfen zwischen den Elektroden oder Feuchte "
    "im Kabel. Trocknen Sie sie und wiederholen Sie diesen Schritt: --step dry",
    "calibrate.standard.care": "Standard gehört nicht ins Trinkwasser: Spülen Sie die Sonde gut "
    "ab, bevor sie zurückkommt, und spülen Sie die Leitung, bevor jemand daraus trinkt.",
    "calibrate.standard.label": "Aufdruck des Standards, µS/cm bei 25 °C",
    "calibrate.standard.do.outlet": "Spülen Sie die Ausgangssonde mit Standard ab und stellen Sie "
    "sie dann in frischen Standard.",
    "calibrate.standard.do.inlet": "Spülen Sie die Eingangssonde mit Standard ab und stellen Sie "
    "sie dann in frischen Standard.",
    "calibrate.standard.temp": "Temperatur des Standards laut Thermometer, °C (die Sonde: {found})",
    "calibrate.standard.true": "Sollwert {true} µS/cm, angezeigt {read}",
    "calibrate.standard.much": "sie zeigt {off} % zu viel an (± {sd} %)",
    "calibrate.standard.little": "sie zeigt {off} % zu wenig an (± {sd} %)",
    "calibrate.standard.gain": "Korrekturfaktor {gain}: so vielmal die angegebene Zellkonstante "
    "hat die Messzelle",
    "calibrate.standard.far": "Das ist weit von 1: ein falscher Standard, eine falsche "
    "Zellkonstante in der Standortdatei, eine Luftblase oder Schmutz in der Zelle. Reinigen Sie "
    "sie und wiederholen Sie diesen Schritt.",
    "calibrate.standard.note": "meters calibrate: trocken und ein KCl-Standard",
    "calibrate.zero.both": "Stellen Sie beide Sonden in einen Messbecher mit Rohwasser (oder "
    "öffnen Sie den Verschnitt ganz und lassen Sie es laufen).",
    "calibrate.zero.one": "Lassen Sie Rohwasser an die Ausgangssonde (Verschnitt ganz öffnen, oder "
    "ein Messbecher davon).",
    "calibrate.zero.no-temp": "Eine Sonde liefert keine Temperatur: Ohne sie sagt dieser Schritt "
    "nichts.",
    "calibrate.zero.outlet": "Ausgang {found} µS/cm bei 25 °C",
    "calibrate.zero.inlet": "Eingang {found} µS/cm bei 25 °C",
    "calibrate.zero.apart": "die Ausgangssonde weicht um {apart} % von der Eingangssonde ab",
    "calibrate.zero.far": "Das ist viel: Sind beide im selben Wasser, ohne Luftblasen?",
    "calibrate.zero.note": "meters calibrate, Sonden verglichen",
    "calibrate.jugs.no-meter": "Diese Linie hat keinen Durchflussmesser.",
    "calibrate.jugs.ready-full": "Messbecher {n} bei vollem Durchfluss: Hahn ganz auf. Bereit",
    "calibrate.jugs.ready-brew": "Messbecher {n} bei dünnem Strahl, so, wie eine Brühgruppe zieht. "
    "Bereit",
    "calibrate.jugs.fill": "Füllen Sie jetzt einen Messbecher; drücken Sie die Eingabetaste, wenn "
    "der Hahn zu ist.",
    "calibrate.jugs.litres": "Wie viele Liter sind darin",
    "calibrate.jugs.one": "{n} Impulse: {k} Impulse/L, {flow} L/min",
    "calibrate.jugs.no-pulse": "Kein Impuls kam: Ist der Durchflussmesser angeschlossen, läuft das "
    "Wasser hindurch?",
    "calibrate.jugs.full": "voller Durchfluss: {k} bei {flow} L/min",
    "calibrate.jugs.brew": "dünner Strahl: {k} bei {flow} L/min",
    "calibrate.jugs.both": "für beide zusammen: {k}",
    "calibrate.jugs.not-thin": "Das war kein dünner Strahl: Wie es sich dabei verhält, ist weiter "
    "unbekannt.",
    "calibrate.jugs.full-only": "Über den dünnen Strahl, bei dem kleine Turbinen zu wenig zählen, "
    "ist nichts bekannt: Die Spanne wird breiter: {k}",
    "calibrate.jugs.k": "{k} Impulse/L ± {sd} %",
    "calibrate.jugs.apart": "Diese Messbecher liegen {apart} % auseinander: Einer davon ist "
    "falsch.",
    "calibrate.jugs.never": "Sie stimmen nie überein: Alle werden neu gefüllt. Ist die Turbine "
    "verstopft?",
    "calibrate.jugs.left-out": "{k} Impulse/L bleiben außer Betracht; füllen Sie noch einen.",
    "calibrate.jugs.slip": "unter {flow} L/min (± {sd}) steht die Turbine still",
    "calibrate.jugs.silent": "Der Zähler liefert nichts. {fault}",
    "calibrate.jugs.note": "meters calibrate: {full} Messbecher bei vollem Durchfluss, {brew} bei "
    "dünnem Strahl",
    "calibrate.try-again": "Noch einmal versuchen",
    "calibrate.waiting": "warten, bis der Messwert steht ...",
    "calibrate.silent.outlet": "Die Ausgangssonde liefert nichts. {fault}",
    "calibrate.silent.inlet": "Die Eingangssonde liefert nichts. {fault}",
    "calibrate.moves": "Nach {seconds} s bewegt er sich noch ({found} µS/cm).",
    "calibrate.take": "So übernehmen, wie es ist",
    "calibrate.try-watch": "Versuchen Sie: lastlitre meters watch SITE.toml",
    "calibrate.no-number": "{said}: bitte eine Zahl von {low} bis {high}.",
    "calibrate.keep": "Das übernehmen",
    "calibrate.not-kept": "Nicht übernommen.",
    "calibrate.kept": "Übernommen: Eintrag {n} des Logbuchs.",
    "calibrate.enter": "{text} [Eingabetaste]",
}
