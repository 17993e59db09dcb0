"""German: what a person should know of a figure, a text a code of `analytics.remarks`."""

from __future__ import annotations

TEXTS = {
    "remark.raw-water-unknown": "Über das Rohwasser ist noch nichts bekannt: Machen Sie einen "
    "Tropfentest davon.",
    "remark.start-unknown": "Niemand hat eingetragen, wie viel schon durch diese Kartusche "
    "gelaufen ist: Die Angabe beginnt bei jedem möglichen Stand ihres Lebens.",
    "remark.no-capacity": "Die Standortdatei nennt keine Kapazität: Die restlichen Liter lassen "
    "sich nicht errechnen.",
    "remark.cartridge-unannounced": "Die Kartusche scheint am {day} ohne Meldung gewechselt worden "
    "zu sein. Die alte ist abgeschlossen; tragen Sie den Wechsel ein, damit es sicher ist.",
    "remark.probes-exchanged": "Die Sonden vor und hinter dem Filter sind seit {day} vertauscht. "
    "Sie werden umgekehrt gelesen, bis das behoben ist.",
    "remark.drop-test-doubted": "Der Tropfentest vom {day} ({what}) ergibt {told}, zu erwarten war "
    "{range}. Wahrscheinlich ist er falsch, aber beides bleibt möglich: Die Spanne ist breiter. "
    "Testen Sie noch einmal.",
    "remark.k-factor-off": "Der Durchflussmesser zählt das {factor}-Fache dessen, was fließt: "
    "Tragen Sie seinen K-Faktor neu ein.",
    "remark.outlet-film": "Auf der Sonde hinter dem Filter scheint ein Belag zu wachsen: Reinigen "
    "Sie sie und vergleichen Sie dann beide Sonden in Rohwasser.",
    "remark.inlet-film": "Auf der Sonde vor dem Filter scheint ein Belag zu wachsen: Sie zeigt zu "
    "wenig an. Reinigen Sie sie und vergleichen Sie dann beide Sonden in Rohwasser.",
    "remark.gap-running": "Keine Messwerte seit {moment}. Bis sie wiederkommen, werden die "
    "üblichen Liter dazugezählt, und die Spanne wird breiter.",
    "remark.gap-unseen": "Insgesamt {hours}\u202fStunden lang gab es keine Messwerte. Etwa "
    "{litres}, zu solchen Stunden üblich, wurden dazugezählt; die Spanne ist dadurch breiter.",
    "remark.not-flushed": "Die ersten Liter dieser Kartusche messen sich anders als die danach: "
    "Vielleicht wurde sie nicht gespült. Sie zählen nicht mit.",
    "remark.stated-use": "Es gibt keinen Durchflussmesser: Die Angabe folgt dem angegebenen "
    "Verbrauch von {litres} am Tag und den Ablesungen von Hand.",
    "remark.stated-use-by-hand": "Es gibt keinen Durchflussmesser: Die Angabe folgt den Ablesungen "
    "von Hand.",
    "remark.use-unknown": "Es gibt weder Durchflussmesser noch angegebenen Verbrauch: Geben Sie "
    "Liter am Tag an oder lesen Sie zweimal einen Wasserzähler ab.",
    "remark.no-probes": "Hinter dem Filter gibt es keine Sonde: Die Angabe stützt sich auf Liter "
    "und Tropfentests.",
    "remark.no-inlet-probe": "Es gibt nur eine Sonde: Anderes Rohwasser und ein verstellter "
    "Verschnitt sehen bis zum nächsten Tropfentest gleich aus.",
    "remark.medium-unseen": "Die Leitfähigkeit zeigt das Ende dieses Mediums kaum: Die Angabe "
    "stützt sich auf Liter, Rohwasserhärte und Tropfentests.",
    "sharpen.drop-test": "Ein Tropfentest jetzt ({what}) würde die Angabe der Tage um etwa {days} "
    "enger machen.",
    "sharpen.second-probe": "Eine zweite Sonde, vor dem Filter, würde die Angabe der Tage um etwa "
    "{days} enger machen.",
    "sharpen.jug-test": "Eine Prüfung des Durchflussmessers mit dem Messbecher würde die Angabe "
    "der Tage um etwa {days} enger machen.",
    "sharpen.day": "einen Tag",
    "sharpen.days": "{n} Tage",
    "remark.what.raw-total": "Gesamthärte des Rohwassers",
    "remark.what.raw-alkalinity": "Säurekapazität des Rohwassers",
    "remark.what.raw-calcium": "Calcium im Rohwasser",
    "remark.what.outlet-total": "Gesamthärte des Wassers der Maschine",
    "remark.what.outlet-alkalinity": "Säurekapazität des Wassers der Maschine",
    "remark.what.outlet-calcium": "Calcium im Wasser der Maschine",
}
