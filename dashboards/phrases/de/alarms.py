"""German: what each alarm means and what to do, in a barista's words."""

from __future__ import annotations

from dashboards.phrases.both_probes import probe_alarms

HARDNESS = {
    "alarm.outlet-hardness-high": "Die Maschine bekommt hartes Wasser.",
    "alarm.outlet-hardness-high.figures": "Etwa {outlet}; höchstens {limit} sollten es sein.",
    "alarm.outlet-hardness-high.cause": "Die Kartusche ist erschöpft, der Verschnitt ist zu weit "
    "offen oder das Leitungswasser ist härter geworden.",
    "alarm.outlet-hardness-high.consequence": "In der Maschine beginnt sich Kalk abzusetzen.",
    "alarm.outlet-hardness-high.do": "Machen Sie einen Tropfentest vom Wasser der Maschine. Ist es "
    "wirklich hart, wechseln Sie die Kartusche.",
    "alarm.breakthrough": "Die Kartusche ist erschöpft.",
    "alarm.breakthrough.figures": "Das ist zu {chance} sicher.",
    "alarm.breakthrough.cause": "Sie hat alles aufgenommen, was sie aufnehmen kann.",
    "alarm.breakthrough.consequence": "Die Maschine bekommt jeden Tag härteres Wasser und beginnt "
    "zu verkalken.",
    "alarm.breakthrough.do": "Machen Sie einen Tropfentest vom Wasser der Maschine und wechseln "
    "Sie die Kartusche.",
    "alarm.capacity-low": "Die Kartusche geht zu Ende: Planen Sie den Wechsel.",
    "alarm.capacity-low.figures": "Noch etwa {left}, in Tagen {days}.",
    "alarm.capacity-low.cause": "Sie hat das meiste aufgenommen, was sie aufnehmen kann.",
    "alarm.capacity-low.consequence": "In höchstens einigen Wochen wird das Wasser hart.",
    "alarm.capacity-low.do": "Legen Sie die nächste Kartusche bereit und legen Sie den Tag des "
    "Wechsels fest.",
    "alarm.change-now": "Wechseln Sie jetzt die Kartusche.",
    "alarm.change-now.figures": "Noch etwa {left}, in Tagen {days}.",
    "alarm.change-now.cause": "Von ihr ist kaum noch etwas übrig.",
    "alarm.change-now.consequence": "In höchstens einigen Tagen wird das Wasser hart.",
    "alarm.change-now.do": "Wechseln Sie die Kartusche heute oder morgen, oder rufen Sie die "
    "Servicefirma.",
    "alarm.time-limit-near": "Die Einsatzzeit der Kartusche ist bald um.",
    "alarm.time-limit-near.figures": "Restzeit in Tagen: {days}.",
    "alarm.time-limit-near.cause": "Eine Kartusche ist nach ihren Monaten zu wechseln, auch wenn "
    "sie wenig gebraucht wurde.",
    "alarm.time-limit-near.consequence": "In einer alten Kartusche können Keime wachsen.",
    "alarm.time-limit-near.do": "Legen Sie die nächste Kartusche bereit und legen Sie den Tag des "
    "Wechsels fest.",
    "alarm.time-limit": "Die Kartusche ist zu lange im Einsatz.",
    "alarm.time-limit.figures": "Überfällig, in Tagen: {days}.",
    "alarm.time-limit.cause": "Ihre Monate sind um, auch wenn sie wenig gebraucht wurde.",
    "alarm.time-limit.consequence": "In einer alten Kartusche können Keime wachsen.",
    "alarm.time-limit.do": "Wechseln Sie die Kartusche.",
    "alarm.carbon-spent": "Die Aktivkohle der Kartusche ist erschöpft.",
    "alarm.carbon-spent.cause": "Es sind so viele Liter durchgelaufen, wie sie schafft.",
    "alarm.carbon-spent.consequence": "Chlor und Geschmack des Leitungswassers kommen durch.",
    "alarm.carbon-spent.do": "Wechseln Sie die Kartusche.",
}

WATER = {
    "alarm.raw-water-changed": "Aus dem Leitungsnetz kommt anderes Wasser.",
    "alarm.raw-water-changed.together": "Aus dem Leitungsnetz kommt anderes Wasser: Vor und hinter "
    "der Kartusche hat es sich innerhalb von Stunden geändert.",
    "alarm.raw-water-changed.outlet-alone": "Aus dem Leitungsnetz kommt wahrscheinlich anderes "
    "Wasser: Hinter der Kartusche hat es sich schneller geändert, als es eine erschöpfte tut.",
    "alarm.raw-water-changed.figures": "Das Rohwasser hat etwa {raw}.",
    "alarm.raw-water-changed.cause": "Der Versorger hat auf eine andere Quelle umgestellt, oder "
    "ein Schieber wurde betätigt.",
    "alarm.raw-water-changed.consequence": "Die Kartusche reicht für mehr oder weniger Liter, und "
    "der Verschnitt passt vielleicht nicht mehr.",
    "alarm.raw-water-changed.do": "Machen Sie einen Tropfentest vom Rohwasser und einen vom Wasser "
    "der Maschine; prüfen Sie den Verschnitt.",
    "alarm.bypass-off": "Der Verschnitt wirkt nicht so, wie er eingestellt ist.",
    "alarm.bypass-off.figures": "Eingestellt auf {set}, wirkt er wie {bypass}.",
    "alarm.bypass-off.cause": "Jemand hat ihn verstellt, er war falsch eingestellt oder er klemmt.",
    "alarm.bypass-off.consequence": "Die Maschine bekommt härteres oder weicheres Wasser als "
    "geplant, und die Kartusche hält anders lange.",
    "alarm.bypass-off.do": "Sehen Sie nach der Einstellung am Filterkopf und machen Sie dann einen "
    "Tropfentest vom Wasser der Maschine.",
    "alarm.water-hard": "Das Wasser der Maschine ist härter, als das Profil verlangt.",
    "alarm.water-hard.figures": "Etwa {hardness}; höchstens {limit} sollten es sein.",
    "alarm.water-hard.cause": "Der Verschnitt ist zu weit offen, oder die Kartusche geht zu Ende.",
    "alarm.water-hard.consequence": "Der Kaffee schmeckt flach, und Kalk kann sich absetzen.",
    "alarm.water-hard.do": "Machen Sie einen Tropfentest vom Wasser der Maschine; schließen Sie "
    "den Verschnitt ein wenig.",
    "alarm.water-thin": "Das Wasser der Maschine ist zu weich.",
    "alarm.water-thin.figures": "Etwa {hardness}; mindestens {limit} sollten es sein.",
    "alarm.water-thin.cause": "Der Verschnitt ist zu weit geschlossen, oder das Leitungswasser ist "
    "weicher geworden.",
    "alarm.water-thin.consequence": "Der Kaffee schmeckt dünn und sauer.",
    "alarm.water-thin.do": "Machen Sie einen Tropfentest vom Wasser der Maschine; öffnen Sie den "
    "Verschnitt ein wenig.",
    "alarm.water-scaling": "Das Wasser der Maschine setzt im Kessel Kalk ab.",
    "alarm.water-scaling.figures": "Sättigungsindex {si} bei 95\u202f°C.",
    "alarm.water-scaling.cause": "Es enthält mehr Kalk, als heißes Wasser halten kann.",
    "alarm.water-scaling.consequence": "Wo das Wasser am heißesten ist, wächst Kalk.",
    "alarm.water-scaling.do": "Machen Sie einen Tropfentest auf Härte und Säurekapazität; "
    "schließen Sie den Verschnitt ein wenig, oder fragen Sie die Servicefirma nach einer anderen "
    "Kartusche.",
    "alarm.water-corrosive": "Das Wasser der Maschine kann Metall angreifen.",
    "alarm.water-corrosive.figures": "Säurekapazität etwa {alkalinity}, pH etwa {ph}.",
    "alarm.water-corrosive.cause": "Seine Säurekapazität ist zu gering: Der Verschnitt ist zu weit "
    "geschlossen, oder das Leitungswasser ist weicher geworden.",
    "alarm.water-corrosive.consequence": "Kessel und Leitungen korrodieren; Blei, Kupfer und "
    "Nickel können in die Tasse gelangen.",
    "alarm.water-corrosive.do": "Machen Sie einen Tropfentest auf Säurekapazität; öffnen Sie den "
    "Verschnitt ein wenig.",
    "alarm.cold-water-warm": "Das Kaltwasser ist zu warm.",
    "alarm.cold-water-warm.figures": "{temp}; höchstens {limit_temp} sollten es sein.",
    "alarm.cold-water-warm.cause": "Die Leitung liegt neben etwas Heißem, oder warmes Wasser "
    "drückt zurück.",
    "alarm.cold-water-warm.consequence": "In Wasser über 25\u202f°C wachsen Keime.",
    "alarm.cold-water-warm.do": "Lassen Sie es laufen, bis es kalt ist. Bleibt es warm, rufen Sie "
    "einen Installateur.",
    "alarm.water-stood": "Das Wasser hat zu lange gestanden.",
    "alarm.water-stood.figures": "Seit {hours}\u202fStunden; spülen Sie mit {flush}.",
    "alarm.water-stood.cause": "Tagelang wurde nichts entnommen.",
    "alarm.water-stood.consequence": "In stehendem Wasser sammeln sich Keime und Metalle.",
    "alarm.water-stood.do": "Lassen Sie das Wasser in den Abfluss laufen, bevor Sie welches "
    "ausschenken.",
}

FLOW = {
    "alarm.leak": "Wasser läuft, obwohl geschlossen ist.",
    "alarm.leak.figures": "{litres} in der letzten Stunde.",
    "alarm.leak.cause": "Eine Leitung, ein Ventil oder die Maschine ist undicht, oder ein Hahn "
    "wurde offen gelassen.",
    "alarm.leak.consequence": "Wasserschaden, und die Kartusche wird umsonst verbraucht.",
    "alarm.leak.do": "Gehen Sie hin und sehen Sie nach. Finden Sie die Stelle nicht, schließen Sie "
    "das Absperrventil vor der Kartusche.",
    "alarm.no-flow": "Seit Stunden ist kein Wasser gelaufen, obwohl geöffnet ist.",
    "alarm.no-flow.figures": "Keines in {hours} geöffneten Stunden.",
    "alarm.no-flow.cause": "Ein Ventil ist zu, die Hauptleitung ist abgestellt oder die Maschine "
    "wird an der Kartusche vorbei gefüllt. Oder der Betrieb ist geschlossen und niemand hat es "
    "gemeldet.",
    "alarm.no-flow.consequence": "Die Maschine kann trockenlaufen oder bekommt unbehandeltes "
    "Wasser.",
    "alarm.no-flow.do": "Ziehen Sie eine Tasse. Werden keine Liter gezählt, sehen Sie nach den "
    "Ventilen und dem Durchflussmesser. Ist der Betrieb geschlossen, tragen Sie die Schließung "
    "ein.",
    "alarm.flow-above-rating": "Das Wasser wird schneller entnommen, als die Kartusche verträgt.",
    "alarm.flow-above-rating.figures": "Bis zu {flow}; ausgelegt ist sie für {limit_flow}.",
    "alarm.flow-above-rating.cause": "Es entnehmen mehr Maschinen gleichzeitig, als die Kartusche "
    "verträgt, oder ein Füllventil ist zu weit offen.",
    "alarm.flow-above-rating.consequence": "Ein Teil der Härte rutscht durch die Kartusche.",
    "alarm.flow-above-rating.do": "Drosseln Sie die Füllung, oder fragen Sie nach einer größeren "
    "Kartusche.",
}

_PROBE_CASES = {
    "failure-no-reading": "Die {meter} liefert keinen Messwert.",
    "failure-dry": "Die {meter} ist trocken, oder ihr Kabel ist ab.",
    "failure-short": "Die {meter} hat einen Kurzschluss.",
    "failure-no-temp": "Der Temperaturfühler der {meter} ist defekt.",
    "failure-stuck": "Die {meter} zeigt immer dasselbe an.",
    "out-of-specification-swapped": "Die Sonden vor und hinter der Kartusche scheinen vertauscht "
    "zu sein.",
    "out-of-specification-doubtful": "Die {meter} zweifelt an ihren eigenen Werten.",
    "out-of-specification-warm": "Das Wasser an der {meter} ist wärmer, als sie verträgt.",
    "maintenance-required-clean": "Die {meter} zeigt anders an als früher, das Wasser ist aber "
    "gleich: Sie muss gereinigt werden.",
}

_PROBE_TOLD = {
    "failure": "Die {meter} ist ausgefallen.",
    "failure.cause": "Die Sonde ist trocken oder defekt, oder ihr Kabel ist ab.",
    "failure.consequence": "Die Angabe ruht nur noch auf Litern und Tropfentests.",
    "failure.do": "Prüfen Sie das Kabel und ob sie im Wasser sitzt; sonst ersetzen Sie sie.",
    "care": "Die {meter} braucht Wartung.",
    "care.cause": "Sie ist verschmutzt, am falschen Platz oder außerhalb ihres Einsatzbereichs.",
    "care.consequence": "Die Angabe wird unsicherer.",
    "care.do": "Sehen Sie nach der Sonde; reinigen Sie sie und prüfen Sie sie in einer "
    "Standardlösung.",
}

METERS = {
    **probe_alarms(
        "Sonde hinter der Kartusche", "Sonde vor der Kartusche", _PROBE_CASES, _PROBE_TOLD
    ),
    "alarm.flow-meter-failure": "Der Durchflussmesser ist ausgefallen.",
    "alarm.flow-meter-failure.failure-no-reading": "Der Durchflussmesser liefert keinen Zählwert.",
    "alarm.flow-meter-failure.cause": "Er ist defekt, oder sein Kabel ist ab.",
    "alarm.flow-meter-failure.consequence": "Liter werden nicht gezählt; die Angabe wird "
    "unsicherer.",
    "alarm.flow-meter-failure.do": "Prüfen Sie das Kabel; sonst ersetzen Sie ihn.",
    "alarm.flow-meter-care": "Der Durchflussmesser braucht Wartung.",
    "alarm.flow-meter-care.out-of-specification-doubtful": "Der Durchflussmesser zweifelt an "
    "seinem eigenen Zählwert.",
    "alarm.flow-meter-care.maintenance-required-resets": "Der Durchflussmesser beginnt immer "
    "wieder von vorn zu zählen.",
    "alarm.flow-meter-care.cause": "Seine Versorgung oder sein Kabel löst sich hin und wieder.",
    "alarm.flow-meter-care.consequence": "Liter können fehlen.",
    "alarm.flow-meter-care.do": "Prüfen Sie Versorgung und Kabel.",
}

BOX = {
    "alarm.data-gap": "Die Messgeräte schweigen.",
    "alarm.data-gap.figures": "Seit mehr als {minutes}\u202fMinuten kein Messwert.",
    "alarm.data-gap.cause": "Die Messbox hat keinen Strom, oder ihr Kabel ist ab.",
    "alarm.data-gap.consequence": "Die Angabe veraltet, und was schiefgeht, bleibt unbemerkt.",
    "alarm.data-gap.do": "Prüfen Sie Strom und Kabel der Messbox.",
    "alarm.clock-unsure": "Die Box weiß nicht, wie spät es ist.",
    "alarm.clock-unsure.cause": "Sie ist ohne Netz gestartet und hat keine eigene Uhr.",
    "alarm.clock-unsure.consequence": "Die Messwerte warten auf ihr Datum; die Angabe bleibt "
    "stehen.",
    "alarm.clock-unsure.do": "Prüfen Sie das Netz der Box.",
    "alarm.disk-low": "Der Speicher der Box ist fast voll.",
    "alarm.disk-low.full": "Der Speicher der Box ist voll.",
    "alarm.disk-low.figures": "Noch {free} frei.",
    "alarm.disk-low.cause": "Die Speicherkarte ist zu klein, oder etwas anderes füllt sie.",
    "alarm.disk-low.consequence": "Messwerte werden spärlicher gespeichert, am Ende gar nicht "
    "mehr.",
    "alarm.disk-low.do": "Schaffen Sie Platz, oder setzen Sie eine größere Karte ein.",
    "alarm.record-damaged": "Die Aufzeichnung war beschädigt und wurde repariert.",
    "alarm.record-damaged.cause": "Die Karte oder Festplatte lässt nach, oder beim Schreiben fiel "
    "der Strom aus.",
    "alarm.record-damaged.consequence": "Ein wenig von der Aufzeichnung kann fehlen; die "
    "beschädigte Datei liegt daneben. Ein Datenträger, der einmal versagt, versagt wieder.",
    "alarm.record-damaged.do": "Machen Sie jetzt eine Sicherung und lassen Sie Karte oder "
    "Festplatte ersetzen.",
    "alarm.sink-behind": "Die Aufzeichnung wird nicht übertragen.",
    "alarm.sink-behind.figures": "Seit {hours}\u202fStunden kam nichts an.",
    "alarm.sink-behind.cause": "Das Netz ist ausgefallen, oder der Empfänger antwortet nicht.",
    "alarm.sink-behind.consequence": "Nichts geht verloren: Es bleibt hier und wird später "
    "gesendet. Wer aus der Ferne zusieht, sieht einen alten Stand.",
    "alarm.sink-behind.do": "Prüfen Sie das Netz; bleibt es so, sagen Sie es der Servicefirma.",
}

NOTICES = {
    "within.hour": "innerhalb einer Stunde",
    "within.hours": "innerhalb von {n} Stunden",
    "within.day": "innerhalb eines Tages",
    "within.days": "innerhalb von {n} Tagen",
    "notice.raised": "{site}: {title}",
    "notice.raised-line": "{site}, {line}: {title}",
    "notice.again": "Immer noch: {title}",
    "notice.escalated": "Niemand hat reagiert: {title}",
    "notice.cleared": "Nicht mehr: {title}",
    "notice.several": "{site}: {n} Meldungen",
    "notice.digest": "{site}: Stand um {clock}\u202fUhr, {day}",
    "notice.digest-none": "Kein Alarm steht an.",
    "notice.digest-new": "Neu am letzten Tag: {n}.",
    "notice.since": "Seit {moment}.",
    "notice.do": "Was zu tun ist, {within}: {do}",
    "notice.why": "Wahrscheinliche Ursache: {cause} Folge: {consequence}",
    "notice.priority": "Priorität: {priority}.",
    "notice.seen": "Quittiert.",
    "notice.not-seen": "Nicht quittiert.",
}

TEXTS = {**HARDNESS, **WATER, **FLOW, **METERS, **BOX, **NOTICES}
