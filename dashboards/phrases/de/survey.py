"""German: the survey - its report, its plane, what speaks for and against a family."""

from __future__ import annotations

FAMILIES = {
    "family.carbon": "Aktivkohle",
    "family.hydrogen": "Entcarbonisierung (Wasserstoffform)",
    "family.magnesium": "Magnesiumaustausch",
    "family.membrane": "Membran mit Aufmineralisierung",
    "family.mixed": "Teilentcarbonisierung (Wasserstoff- und Magnesiumform)",
    "family.polyphosphate": "Polyphosphatdosierung",
    "family.sodium": "Enthärtung (Natriumform)",
    "family.remineralise": "Aufmineralisierung (Calcitbett)",
    "family.carbon.short": "Aktivkohle",
    "family.hydrogen.short": "Wasserstoff",
    "family.magnesium.short": "Magnesium",
    "family.membrane.short": "Membran",
    "family.mixed.short": "gemischt",
    "family.polyphosphate.short": "Polyphosphat",
    "family.sodium.short": "Natrium",
    "family.remineralise.short": "Aufmineralisierung",
    "family.carbon.does": "entfernt Chlor; Härte, Säurekapazität und Leitfähigkeit bleiben",
    "family.hydrogen.does": "nimmt das Calcium und Magnesium, das zur Säurekapazität gehört, und "
    "gibt Wasserstoff ab, der aus Hydrogencarbonat CO2 macht; die bleibende Härte bleibt",
    "family.magnesium.does": "tauscht Calcium gegen Magnesium; Gesamthärte und Säurekapazität "
    "bleiben, Calcium sinkt",
    "family.membrane.does": "hält fast alle Ionen zurück und gibt dann Calcium und Säurekapazität "
    "wieder zu",
    "family.mixed.does": "senkt die Karbonathärte und tauscht einen Teil des Calciums gegen "
    "Magnesium",
    "family.polyphosphate.does": "maskiert Calcium und Magnesium mit einigen mg/L Polyphosphat; "
    "die Härte bleibt",
    "family.sodium.does": "tauscht Calcium und Magnesium gegen Natrium; die Härte sinkt auf fast "
    "null, die Säurekapazität bleibt",
    "family.remineralise.does": "gibt dünnem Wasser Calcium und Säurekapazität",
}

CAUTIONS = {
    "caution.hygiene": "Wasser, das nicht als Trinkwasser sicher ist, wird durch diese Kartusche "
    "nicht sicher.",
    "caution.flush": "Nach Tagen ohne Gebrauch vor dem Trinken spülen.",
    "caution.confirm": "Eine Schätzung ist kein Test: Bestätigen Sie sie mit einem Tropfentest vor "
    "jeder Entscheidung, die eine Maschine kosten kann.",
    "caution.plumbing": "Netzdruck, Rückflussverhinderung und Trinkwasseranschlüsse: örtliche "
    "Vorschriften und ein zugelassener Installateur.",
    "caution.electricity": "Strom neben Wasser: zuerst spannungsfrei schalten, im Nassbereich nur "
    "Kleinspannung.",
    "caution.corrosion.new": "Hinter einer neuen Kartusche liegt der pH bei etwa {found} mit "
    "{alkalinity} Säurekapazität: Solches Wasser greift Kessel und Leitungen an (Blei, Kupfer, "
    "Nickel). Verschneiden Sie es.",
    "caution.corrosion.spent": "Sind die Mineralien verbraucht, liegt der pH bei etwa {found} mit "
    "{alkalinity} Säurekapazität: Solches Wasser greift Kessel und Leitungen an (Blei, Kupfer, "
    "Nickel). Wechseln Sie rechtzeitig.",
    "caution.chloride": "Chlorid liegt bei etwa {found} und bleibt im Wasser: Kessel aus Edelstahl "
    "und Messing korrodieren. Nur eine Membran entfernt es.",
    "caution.sodium-diet": "Die Enthärtung fügt {added} Natrium hinzu: Sagen Sie es Menschen, die "
    "natriumarm leben müssen.",
    "caution.sodium-limit": "Natrium erreicht {found}, über dem Trinkwassergrenzwert von {limit}. "
    "Verschneiden Sie, oder wählen Sie ein anderes Medium.",
    "caution.faint.one-rises": "Am Ende der Kapazität steigt die Leitfähigkeit nur um {change} des "
    "Rohwassers: Eine einzelne Ausgangssonde kann das Ende nicht erkennen. Die Schätzung stützt "
    "sich auf Liter, Rohwasserhärte und Tropfentests.",
    "caution.faint.one-falls": "Am Ende der Kapazität fällt die Leitfähigkeit nur um {change} des "
    "Rohwassers: Eine einzelne Ausgangssonde kann das Ende nicht erkennen. Die Schätzung stützt "
    "sich auf Liter, Rohwasserhärte und Tropfentests.",
    "caution.faint.pair-rises": "Am Ende der Kapazität steigt die Leitfähigkeit nur um {change} "
    "des Rohwassers: Selbst mit zwei Sonden kann die Leitfähigkeit das Ende nicht erkennen. Die "
    "Schätzung stützt sich auf Liter, Rohwasserhärte und Tropfentests.",
    "caution.faint.pair-falls": "Am Ende der Kapazität fällt die Leitfähigkeit nur um {change} des "
    "Rohwassers: Selbst mit zwei Sonden kann die Leitfähigkeit das Ende nicht erkennen. Die "
    "Schätzung stützt sich auf Liter, Rohwasserhärte und Tropfentests.",
    "caution.not-visible.carbon": "Über die Aktivkohle sagt die Leitfähigkeit nichts: Nur Liter "
    "und Monate zählen.",
    "caution.not-visible.dose": "Über die Dosis sagen Leitfähigkeit und Tropfentests nichts: Nur "
    "Liter und Monate zählen.",
    "caution.films": "Beläge und Schlamm können die Wasserwege einer Espressomaschine verstopfen, "
    "die nur 0,5\u202fmm weit sein können: davor nicht zu empfehlen.",
    "caution.steam-boiler": "Im Dampfkessel können sich Magnesiummineralien trotzdem ablagern.",
    "caution.calcium-test": "Die Gesamthärte ändert sich kaum: Nur ein Tropfentest auf Calcium "
    "zeigt, wie es um dieses Medium steht.",
    "caution.magnesium-rich": "{found} der Rohwasserhärte sind schon Magnesium: Das Bett nimmt "
    "weniger Calcium auf als angegeben.",
    "caution.sodium-first.hydrogen": "Die Säurekapazität übersteigt die Härte: Zuerst bricht "
    "Natrium durch, darum steigt die Leitfähigkeit am Ausgang früh, während die Härte noch gering "
    "ist. Das ist nicht das Ende der Kapazität.",
    "caution.sodium-first.mixed": "Die Säurekapazität übersteigt die Härte: Zuerst bricht Natrium "
    "durch, darum steigt die Leitfähigkeit am Ausgang früh, und der Schlupf schwankt mit dem "
    "Natrium im Rohwasser. Beides ist nicht das Ende der Kapazität.",
    "caution.permanent": "Eine bleibende Härte von etwa {stays} bleibt im Wasser und kann sich "
    "trotzdem absetzen.",
    "caution.leakage": "Eine neue Kartusche lässt etwa {through} der Karbonathärte durch; das Ende "
    "der Kapazität zählt von da an.",
    "caution.permeate": "Das Permeat einer gesunden Membran leitet etwa {passed} des Rohwassers: "
    "Beurteilen Sie die Membran mit einer Sonde vor der Aufmineralisierung. Dahinter zeigt ein "
    "Abfall deren Ende.",
}

NAMES = {
    "survey.name.hardness": "Gesamthärte",
    "survey.name.alkalinity": "Säurekapazität",
    "survey.name.ec25": "Leitfähigkeit",
    "survey.name.calcium": "Calcium",
    "survey.name.magnesium": "Magnesium",
    "survey.name.sodium": "Natrium",
    "survey.name.chloride": "Chlorid",
    "survey.name.sulphate": "Sulfat",
    "survey.name.nitrate": "Nitrat",
    "survey.name.ph": "pH",
    "survey.and": "{first} und {last}",
    "survey.cases": "{n} von 100 Fällen",
    "survey.kind.total": "Gesamthärte",
    "survey.kind.carbonate": "Karbonathärte",
    "survey.kind.calcium": "Calciumhärte",
}

REASONS = {
    "survey.hardness.above": "Härte {found} über {limit}",
    "survey.hardness.below": "Härte {found} unter {limit}",
    "survey.alkalinity.above": "Säurekapazität {found} über {limit}",
    "survey.alkalinity.below": "Säurekapazität {found} unter {limit}",
    "survey.changes-nothing.outside": "Rohwasser mit {parts}; Aktivkohle ändert daran nichts.",
    "survey.changes-nothing.seldom": "Das Rohwasser liegt nur in {found} im Zielbereich; "
    "Aktivkohle ändert an beiden Werten nichts.",
    "survey.scale.machine": "Im Brühkessel liegt der Sättigungsindex bei {boiler} bei {found}, "
    "über {limit}: Kalk.",
    "survey.scale.carbon": "Im Brühkessel liegt der Sättigungsindex bei {boiler} bei {found}, über "
    "{limit}: Kalk. Aktivkohle entfernt keinen Kalk.",
    "survey.not-needed.carbon": "Das Rohwasser liegt schon im Zielbereich: Aktivkohle genügt.",
    "survey.not-needed.membrane": "Das Rohwasser liegt schon im Zielbereich: Eine Membran ist "
    "nicht nötig.",
    "survey.alkalinity-not-high.below": "Es senkt die Säurekapazität, aber die des Rohwassers "
    "({found}) liegt schon unter dem Zielbereich ({low} bis {high}).",
    "survey.alkalinity-not-high.within": "Es senkt die Säurekapazität, aber die des Rohwassers "
    "({found}) liegt schon im Zielbereich ({low} bis {high}).",
    "survey.permanent-stays": "Es nimmt nur die Härte, die zur Säurekapazität gehört: {found} "
    "blieben, über {limit}. Der Rest ist bleibend (Gips, Salz).",
    "survey.floor": "Die Säurekapazität übersteigt die Härte: {found} davon gehören zu Natrium und "
    "bleiben, über {limit}.",
    "survey.too-soft-behind": "Mit der Säurekapazität nimmt es Härte: Liegt die Säurekapazität im "
    "Zielbereich, bleiben nur {found} Härte, unter {limit}.",
    "survey.hardness-stays": "Die Gesamthärte bleibt: {found} liegt zu weit über den {limit} des "
    "Zielbereichs.",
    "survey.already-soft.swap": "Das Rohwasser hat nur {found} Härte: Es gibt nichts zu tauschen.",
    "survey.already-soft.take": "Das Rohwasser ist schon weich ({found}): Es gibt nichts zu "
    "entfernen.",
    "survey.alkalinity-stays": "Die Säurekapazität bleibt: {found}, über den {limit} des "
    "Zielbereichs: ein flacher Kaffee.",
    "survey.magnesium-rich": "Nur {found} der Härte sind Calcium: Der Tausch gegen Magnesium "
    "ändert wenig.",
    "survey.permanent-to-sodium": "{found} sind größtenteils bleibende Härte (Gips, Salz): Sie "
    "käme als Natriumsalz in die Tasse. Eine Membran entfernt sie.",
    "survey.low-sodium": "Es gibt Natrium ab, und das Wasser muss natriumarm bleiben.",
    "survey.not-thin.too-much": "Es gibt Härte und Säurekapazität ab, und davon hat das Wasser "
    "schon zu viel.",
    "survey.not-thin.enough": "Das Rohwasser hat genug Mineralien: Nichts muss zugegeben werden.",
    "survey.already-thin": "Das Rohwasser ist schon mineralarm: Aufmineralisieren genügt, ohne "
    "Membran.",
    "survey.chloride.stays": "Chlorid bleibt, etwa {found}, über {limit}: Es greift Edelstahl und "
    "Messing an. Nur eine Membran entfernt es.",
    "survey.films": "Es lässt die Härte, wo sie ist, und seine Beläge und sein Schlamm können die "
    "Wasserwege einer Espressomaschine verstopfen, die nur 0,5\u202fmm weit sein können.",
    "survey.hardness-high": "Die Maschine bekäme immer noch {found} Härte, über {limit}.",
    "survey.hardness-low": "Die Maschine bekäme nur {found} Härte, unter {limit}.",
    "survey.alkalinity-high": "Die Maschine bekäme immer noch {found} Säurekapazität, über "
    "{limit}.",
    "survey.alkalinity-low": "Die Maschine bekäme nur {found} Säurekapazität, unter {limit}.",
    "survey.calcium-high": "Die Maschine bekäme immer noch {found} Calcium, über {limit}.",
    "survey.calcium-low": "Die Maschine bekäme nur {found} Calcium, unter {limit}.",
    "survey.hardly-treats": "Mit {round} Verschnitt würde es das Wasser kaum aufbereiten.",
    "survey.just-outside": "Knapp außerhalb des Zielbereichs: {parts}.",
    "survey.sodium-limit.raw": "Das Natrium des Rohwassers liegt schon über {limit} und bleibt.",
    "survey.sodium-limit.reached": "Natrium käme auf {found}, über den Grenzwert von {limit}.",
    "survey.half-way": "Ein Calcitbett allein erreicht {hardness} Härte und {alkalinity} "
    "Säurekapazität; für mehr braucht es Kohlensäure oder dosierte Mineralien.",
    "survey.unsure": "Nach dem, was bekannt ist, liegt das Wasser der Maschine in {found} im "
    "Zielbereich: Bestätigen Sie es mit einem Tropfentest hinter dem Filter, bevor Sie den "
    "Verschnitt so lassen.",
    "survey.ph.below": "Der pH am Hahn liegt bei etwa {found}, unter den {limit} des Zielbereichs. "
    "Er steigt auf etwa {open}, wenn die Kohlensäure entweicht; bis dahin greift das Wasser "
    "Kupfer, Messing und Blei an.",
    "survey.ph.above": "Der pH am Hahn liegt bei etwa {found}, über den {limit} des Zielbereichs. "
    "An der Luft fällt er auf etwa {open}.",
    "survey.low-ph": "pH {found} am Hahn ist niedrig für Kupfer, Messing und Blei, bis das CO2 "
    "entwichen ist.",
    "survey.corrosion": "Mit nur {found} Säurekapazität puffert dieses Wasser kaum Säure: Kessel "
    "und Leitungen korrodieren (Blei, Kupfer, Nickel).",
    "survey.chloride-thickens": "Im Dampfkessel steht es {many}-mal so hoch.",
    "survey.chloride-untested": "Chlorid wurde nicht getestet; plausibel sind {low} bis {high}, "
    "über {limit} in {over}: Testen Sie es, bevor etwas gekauft wird.",
    "survey.chloride.unknown": "Chlorid {found} liegt über {limit}: Achten Sie beim Metall des "
    "Kessels auf Lochfraß.",
    "survey.chloride.stainless": "Chlorid {found} liegt über {limit}: Achten Sie bei Edelstahl auf "
    "Lochfraß.",
    "survey.chloride.brass": "Chlorid {found} liegt über {limit}: Achten Sie bei Messing auf "
    "Lochfraß.",
    "survey.brew-scale": "Etwas Kalk bei {boiler}: Sättigungsindex {found}, bis zu {lime} Kalk.",
    "survey.steam-scale": "Der Dampfkessel dickt sein Wasser ein ({many}-fach): Bis zu {lime} Kalk "
    "aus dem Speisewasser können sich absetzen. Wechseln Sie sein Wasser oft.",
    "survey.steam-magnesium": "Auch Magnesiummineralien können sich dort ablagern.",
    "survey.sodium-diet.over": "Fügt {added} Natrium hinzu, zusammen {found} (Trinkwassergrenzwert "
    "{limit}): Sagen Sie es Menschen, die natriumarm leben müssen; ihnen werden {diet} empfohlen.",
    "survey.sodium-diet.under": "Fügt {added} Natrium hinzu, zusammen {found} "
    "(Trinkwassergrenzwert {limit}): Sagen Sie es Menschen, die natriumarm leben müssen; ihnen "
    "werden {diet} empfohlen.",
    "survey.tds": "TDS {found} (EC25 mal {factor}, eine Übereinkunft) liegt außerhalb von {low} "
    "bis {high}.",
    "survey.taste": "Es nimmt Calcium und Magnesium, die den Kaffee extrahieren: gut für die "
    "Maschine, schlecht für den Geschmack.",
    "survey.effort.membrane": "Ein Teil des Wassers geht in den Abfluss, es braucht Leitungsdruck "
    "oder eine Pumpe und oft einen Tank: Fragen Sie vor dem Einbau nach der Ausbeute.",
    "survey.effort.calcite": "Wie viel ein Calcitbett löst, hängt an der freien Kohlensäure: "
    "Messen Sie den pH am Hahn.",
    "survey.softened-already": "Kaum Härte, aber reichlich Säurekapazität: Vor diesem Hahn steht "
    "eine Enthärtung, oder die Probe kam von dahinter. Prüfen Sie das Wasser der Hauptleitung.",
    "survey.alkalinity-exceeds-hardness": "Die Säurekapazität übersteigt die Gesamthärte um "
    "{floor}: Dieser Teil gehört zu Natrium. Auch ein Test auf „Karbonathärte“ zeigt ihn an; das "
    "ist kein Fehler des Tests.",
    "survey.hardness-inferred.alone": "Die Härte ist nur aus Säurekapazität oder Calcium "
    "erschlossen: Zählen Sie ihre Tropfen.",
    "survey.hardness-inferred.conductivity": "Die Härte ist aus der Leitfähigkeit erschlossen, die "
    "alle Salze sieht: Zählen Sie ihre Tropfen.",
    "survey.report-differs": "Der Test ergibt {what} {tested}, der Bericht nennt {stated}. Der "
    "Test gilt; der Bericht kann eine andere Zone oder ein anderes Jahr betreffen, oder das Netz "
    "wird aus mehreren Quellen gespeist.",
}

DOUBTS = {
    "survey.calcium-above-hardness.unit": "Calcium ({calcium}) liegt über der Gesamthärte "
    "({hardness}), von der es ein Teil ist. Als mg/L CaCO3 statt als Calcium gelesen wären es "
    "{slipped}, und das passt: Wahrscheinlich ist die Einheit des Calciumwerts falsch.",
    "survey.calcium-above-hardness.hardness": "Calcium ({calcium}) liegt über der Gesamthärte "
    "({hardness}), von der es ein Teil ist. Leitfähigkeit und Säurekapazität sprechen für das "
    "Calcium: Wahrscheinlich ist der Härtetest falsch.",
    "survey.calcium-above-hardness.calcium": "Calcium ({calcium}) liegt über der Gesamthärte "
    "({hardness}), von der es ein Teil ist. Ein Calciumtest braucht pH 12 und zeigt sonst zu viel: "
    "Eher ist das Calcium falsch.",
    "survey.parts-not-hardness": "Calcium und Magnesium ergeben zusammen {both}, die Gesamthärte "
    "{whole}: Beides müsste gleich sein. Zwei Werte einer Analyse wiegen mehr als ein Test: "
    "Wahrscheinlich ist die Gesamthärte falsch, oder das Wasser hat sich geändert.",
    "survey.conductivity-too-low.test": "{found} sind zu wenig für das Gefundene ({known}): Diese "
    "Ionen allein leiten bei 25\u202f°C mindestens {least}. Zur Leitfähigkeit passt: {others}. "
    "Wahrscheinlich falsch: {wrong} (andere Tropfengröße oder anderes Wasser).",
    "survey.conductivity-too-low.conductivity": "{found} sind zu wenig für das Gefundene "
    "({known}): Diese Ionen allein leiten bei 25\u202f°C mindestens {least}. Untereinander passen "
    "sie: Wahrscheinlich ist die Leitfähigkeit falsch.",
    "survey.conductivity-too-low.either": "{found} sind zu wenig für das Gefundene ({known}): "
    "Diese Ionen allein leiten bei 25\u202f°C mindestens {least}. Eines von beiden ist falsch; "
    "eine Leitfähigkeitsmessung geht leichter daneben als Tropfen.",
    "survey.too-few-cations.hardness": "Säurekapazität und Chlorid ergeben {anions}, Härte und "
    "Natrium aber höchstens {cations}: Es fehlen Kationen dazu. Die Leitfähigkeit passt zur "
    "Säurekapazität: Wahrscheinlich ist der Härtetest falsch.",
    "survey.too-few-cations.alkalinity": "Säurekapazität und Chlorid ergeben {anions}, Härte und "
    "Natrium aber höchstens {cations}: Es fehlen Kationen dazu. Zwei Tests stehen gegen einen: "
    "Wahrscheinlich ist die Säurekapazität falsch.",
    "survey.ph-too-high": "Bei pH {found} würden diese Härte und Säurekapazität schon in der "
    "Hauptleitung Kalk absetzen (Sättigungsindex {index}). Wahrscheinlich ist der pH falsch: Eine "
    "Probe, die gestanden hat, verliert CO2, und ihr pH steigt.",
    "survey.ph-too-low": "Zu pH {found} und dieser Säurekapazität gehören {co2} freie Kohlensäure, "
    "mehr als eine Hauptleitung führt. Wahrscheinlich ist der pH falsch.",
    "survey.mend.unit": "Sagen Sie, wovon die Milligramm sind: „40 mg/L“ ist Calcium, „100 mg/L as "
    "CaCO3“ Härte.",
    "survey.mend.drops": "Testen Sie die Gesamthärte noch einmal und prüfen Sie, wofür ein Tropfen "
    "steht.",
    "survey.mend.again": "Testen Sie beide noch einmal, Calcium mit seinem alkalischen Puffer.",
    "survey.mend.kit": "Testen Sie noch einmal und prüfen Sie, wofür ein Tropfen steht.",
    "survey.mend.probe": "Prüfen Sie das Messgerät in einem Standard (1413\u202fµS/cm), seine "
    "Einheit (mS/cm?) und ob es auf 25\u202f°C bezieht: Ohne das zeigt es bei 10\u202f°C 30\u202f% "
    "zu wenig.",
    "survey.mend.alkalinity": "Ein Test der Säurekapazität zeigt, was stimmt.",
    "survey.mend.ph": "Messen Sie den pH sofort am Hahn, mit einem in zwei Puffern abgeglichenen "
    "Gerät.",
}

TEXTS = {**FAMILIES, **CAUTIONS, **NAMES, **REASONS, **DOUBTS}
