"""German: the wiring guide."""

from __future__ import annotations

TEXTS = {
    "wiring.title": "Anschluss",
    "wiring.title-what": "Wie Sonden, Thermometer und Turbinen an den Messknoten angeschlossen "
    "werden, mit Warnhinweisen.",
    "wiring.first": "Schließen Sie die Messgeräte an.",
    "wiring.then": "Eine kleine Platine liest eine oder zwei Leitfähigkeitssonden, an jeder ein "
    "Thermometer, und einen oder zwei Turbinenzähler und sendet alles über ein einziges Kabel.",
    "wiring.next": "Lesen Sie die Warnhinweise, bevor Sie eine Leitung oder ein Gehäuse öffnen.",
    "wiring.electric": "Strom",
    "wiring.electric-note": "bevor Sie einen Draht anfassen",
    "wiring.electric.1": "Ziehen Sie den Stecker der Platine und von allem, womit sie verbunden "
    "ist, bevor Sie einen Draht anfassen.",
    "wiring.electric.2": "Im Nassbereich nur Kleinspannung: höchstens 5\u202fV, aus einem Netzteil "
    "mit doppelter Isolierung (Schutzkleinspannung, SELV). Nichts hier öffnet oder verbindet eine "
    "Netzleitung: Das ist Arbeit für eine Elektrofachkraft.",
    "wiring.electric.3": "Die Platine und alle Verbindungen sitzen in einem geschlossenen Gehäuse "
    "im Trockenen, höher als die Wasserleitung. Jedes Kabel hängt vor dem Eintritt in einer "
    "Schlaufe durch, damit Tropfen abfallen.",
    "wiring.electric.4": "Der Rahmen der Maschine ist geerdet, und das Wasser berührt ihn. "
    "Versorgen Sie die Platine so, dass kein Strom von der Erde durch das Wasser zu einer Sonde "
    "fließen kann: mit einem Netzteil ohne Schutzkontakt und, falls der Rechner geerdet ist, einem "
    "Isolator im USB-Kabel. Fremdstrom verfälscht den Messwert; der Selbsttest nennt ihn.",
    "wiring.food": "Trinkwasser",
    "wiring.food-note": "bevor Sie eine Leitung öffnen",
    "wiring.food.1": "Das Wasser der Maschine ist ein Lebensmittel. Jedes wasserberührte Teil muss "
    "bei Ihnen für Trinkwasser hergestellt und zugelassen sein (in der Europäischen Union: "
    "Richtlinie (EU) 2020/2184, Artikel 11; in Nordamerika: NSF/ANSI/CAN 61).",
    "wiring.food.2": "Elektroden aus Edelstahl 1.4404 (316L) oder Graphit. Kein Lot, kein "
    "Flussmittel, keine Messingelektrode, kein Klebstoff im Wasser.",
    "wiring.food.3": "Thermometer bleiben außerhalb des Wassers: in einer Tauchhülse oder unter "
    "Dämmung an die Leitung geschnallt.",
    "wiring.food.4": "Netzdruck, Rückflussverhinderung und Verbindungen in einer "
    "Trinkwasserleitung: örtliche Vorschriften und ein zugelassener Installateur. Saubere Hände "
    "und saubere Teile; spülen Sie zehn Liter in den Abfluss, bevor die Maschine wieder Wasser "
    "bekommt.",
    "wiring.places": "Plätze",
    "wiring.places-note": "was wo sitzt",
    "wiring.places-drawn": "Von links nach rechts: Absperrventil, Turbine, Eingangssonde, "
    "Filterkopf mit Verschnitt, Ausgangssonde, Maschine. Darüber, im Trockenen, die Platine in "
    "ihrem Gehäuse.",
    "wiring.dry": "trocken",
    "wiring.wet": "nass",
    "wiring.board": "Platine",
    "wiring.to-host": "zum Rechner",
    "wiring.place.1": "Absperrventil",
    "wiring.place.2": "Turbine, vor dem Filterkopf, ihr Pfeil in Fließrichtung: Sie zählt alles "
    "Wasser, auch den Verschnitt",
    "wiring.place.3": "Eingangssonde und Thermometer (können entfallen: dann probes auf 1 setzen)",
    "wiring.place.4": "Filterkopf und Kartusche",
    "wiring.place.5": "Ausgangssonde und Thermometer, hinter dem Verschnitt, wo das Wasser an den "
    "Elektroden vorbei aufwärts fließt, damit Luftblasen entweichen",
    "wiring.place.6": "Maschine",
    "wiring.two-probes": "Zwei Sonden in einer Leitung sehen den Strom der anderen. Die Platine "
    "liest sie nacheinander und lässt alle Anschlüsse der einen los, während sie die andere "
    "speist. Zwei Geräte, die ständig speisen, müssen voneinander isoliert sein, jedes mit eigenem "
    "Netzteil.",
    "wiring.probe": "Eine Sonde",
    "wiring.probe-note": "gezeichnet: die Ausgangssonde",
    "wiring.probe-drawn": "Drei Anschlüsse gehen über je einen Widerstand an einen Knoten. Der "
    "Knoten geht an den ADC-Anschluss und an eine Elektrode. Die andere Elektrode geht an einen "
    "vierten Anschluss.",
    "wiring.probe.1": "Zwei blanke Elektroden mit einer Zellkonstante von etwa 1 je cm und drei "
    "Widerstände mit 1\u202f%. Die Platine speist die Sonde in beide Richtungen gleich lang, damit "
    "keine Ladung auf den Elektroden bleibt, und nimmt den Widerstand, der zum Wasser passt.",
    "wiring.probe.2": "Zweiadriges geschirmtes Kabel, höchstens drei Meter; der Schirm nur an der "
    "Platine an Masse.",
    "wiring.probe.3": "Die eigene Zellkonstante der Sonde wird in LastLitre eingetragen, nicht auf "
    "der Platine.",
    "wiring.rest": "Die übrigen",
    "wiring.rest-note": "Thermometer und Turbinen",
    "wiring.rest-drawn": "Ein Eindraht-Thermometer an Versorgung, Daten und Masse, mit einem "
    "Widerstand von Daten zu Versorgung. Eine Turbine an Versorgung, Impuls und Masse.",
    "wiring.cell": "Zelle",
    "wiring.thermometer": "Thermometer",
    "wiring.supply": "3,3\u00a0V",
    "wiring.pull-up": "4,7\u00a0kΩ",
    "wiring.turbine": "Turbine",
    "wiring.rest.1": "Digitale Eindraht-Thermometer mit 12\u202fBit, jedes an eigenem Anschluss, "
    "damit ein gebrochenes Kabel nur eines verstummen lässt und keines mit dem anderen verwechselt "
    "wird.",
    "wiring.rest.2": "Turbinen mit Open-Collector-Ausgang; die Platine zieht ihn hoch. Ein Ausgang "
    "mit 5\u202fV braucht einen Spannungsteiler (10 und 20\u202fKiloohm): Die Anschlüsse vertragen "
    "3,3\u202fV.",
    "wiring.rest.3": "Die Impulse je Liter werden mit dem Messbecher bestimmt und in LastLitre "
    "eingetragen.",
    "wiring.pins": "Anschlüsse",
    "wiring.pins-note": "wie das Programm geliefert wird; ändern in settings.py",
    "wiring.pin.outlet": "Ausgangssonde: Widerstände, ferne Elektrode, ADC",
    "wiring.pin.inlet": "Eingangssonde: Widerstände, ferne Elektrode, ADC",
    "wiring.pin.ohms": "Widerstände, in der Reihenfolge ihrer Anschlüsse",
    "wiring.pin.thermometers": "Thermometer: Ausgang, Eingang",
    "wiring.pin.turbine": "Turbine (eine zweite: jeder freie Anschluss)",
    "wiring.pin.stop": "beim Start an Masse legen, um die Platine mit einem Terminal zu erreichen",
    "wiring.program": "Programm",
    "wiring.program.1": "lastlitre firmware ORDNER schreibt das Programm der Platine in einen "
    "Ordner, mit einem Text, wie man es auf die Platine kopiert.",
    "wiring.program.2": "Das geschriebene Programm ist an virtuellen Teilen und in einem echten "
    "Interpreter erprobt; Ihre Lötstellen kann kein Test erproben. Kalibrieren Sie, bevor Sie "
    "einer Angabe trauen.",
}
