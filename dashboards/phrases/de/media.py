"""German: the media and their cautions."""

from __future__ import annotations

TEXTS = {
    "medium.hydrogen": "Wasserstoffform",
    "medium.mixed": "Wasserstoff- und Magnesiumform",
    "medium.magnesium": "Magnesiumform",
    "medium.sodium": "Natriumform",
    "medium.membrane": "Membran",
    "medium.carbon": "Aktivkohle",
    "medium.polyphosphate": "Polyphosphat",
    "footer.cartridge": "Kartusche: {medium}, eingebaut {day}",
    "footer.cartridge-no-day": "Kartusche: {medium}",
    "care.hydrogen": "Dieses Medium macht das Wasser saurer. Wo fast die ganze Säurekapazität "
    "entfernt ist, kann das Wasser Kessel und Leitungen angreifen.",
    "care.mixed": "Dieses Medium macht das Wasser saurer. Wo fast die ganze Säurekapazität "
    "entfernt ist, kann das Wasser Kessel und Leitungen angreifen.",
    "care.sodium": "Dieses Medium gibt Natrium ab: etwa 8\u202fmg je Liter für jedes entfernte "
    "°dH. Sagen Sie es Gästen, die natriumarm leben müssen.",
    "care.magnesium": "Magnesium bleibt im Wasser: Im Dampfkessel kann es sich trotzdem ablagern.",
    "care.membrane": "Wasser aus einer Membran ist sehr weich: Ohne Aufmineralisierung greift es "
    "Kessel an.",
    "care.polyphosphate": "Die Härte wird maskiert, nicht entfernt: Beläge und Schlamm können die "
    "feinen Wasserwege einer Espressomaschine verstopfen.",
    "care.any": "Nach Tagen ohne Entnahme vor dem Trinken spülen. Eine Kartusche macht unsicheres "
    "Wasser nicht sicher.",
}
