"""Italian: the media and their cautions."""

from __future__ import annotations

TEXTS = {
    "medium.hydrogen": "idrogeno",
    "medium.mixed": "misto idrogeno e magnesio",
    "medium.magnesium": "magnesio",
    "medium.sodium": "sodio",
    "medium.membrane": "membrana",
    "medium.carbon": "carbone attivo",
    "medium.polyphosphate": "polifosfati",
    "footer.cartridge": "cartuccia: {medium}, montata {day}",
    "footer.cartridge-no-day": "cartuccia: {medium}",
    "care.hydrogen": "Questo materiale rende l'acqua più acida. Dove toglie quasi tutta "
    "l'alcalinità, l'acqua può corrodere caldaie e tubi.",
    "care.mixed": "Questo materiale rende l'acqua più acida. Dove toglie quasi tutta "
    "l'alcalinità, l'acqua può corrodere caldaie e tubi.",
    "care.sodium": "Questo materiale aggiunge sodio: circa 8\u202fmg per litro per ogni °dH "
    "tolto. Avvisare gli ospiti con dieta povera di sodio.",
    "care.magnesium": "Il magnesio resta nell'acqua: in una caldaia vapore può ancora formare "
    "depositi.",
    "care.membrane": "L'acqua di una membrana è molto dolce: corrode le caldaie se non si "
    "restituiscono i minerali.",
    "care.polyphosphate": "La durezza è mascherata, non tolta: pellicole e fanghi possono "
    "ostruire i passaggi sottili di una macchina da espresso.",
    "care.any": "Dopo giorni di fermo, risciacquare prima di bere. Una cartuccia non rende sicura "
    "un'acqua non sicura.",
}
