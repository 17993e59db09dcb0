"""English: the media and their cautions."""

from __future__ import annotations

TEXTS = {
    "medium.hydrogen": "hydrogen",
    "medium.mixed": "mixed hydrogen and magnesium",
    "medium.magnesium": "magnesium",
    "medium.sodium": "sodium",
    "medium.membrane": "membrane",
    "medium.carbon": "carbon",
    "medium.polyphosphate": "polyphosphate",
    "footer.cartridge": "cartridge: {medium}, fitted {day}",
    "footer.cartridge-no-day": "cartridge: {medium}",
    "care.hydrogen": "This medium makes water more acid. Where almost all alkalinity is taken, it "
    "can corrode boilers and pipes.",
    "care.mixed": "This medium makes water more acid. Where almost all alkalinity is taken, it "
    "can corrode boilers and pipes.",
    "care.sodium": "This medium adds sodium: about 8 mg in each litre for every °dH taken out. "
    "Tell guests on a low-sodium diet.",
    "care.magnesium": "Magnesium stays in the water: a steam boiler can still get deposits of it.",
    "care.membrane": "Water from a membrane is very soft: it corrodes boilers unless minerals are "
    "put back.",
    "care.polyphosphate": "Hardness is hidden, not taken out: films and sludge can block the fine "
    "passages of an espresso machine.",
    "care.any": "After days of standing, flush before drinking. A cartridge does not make unsafe "
    "water safe.",
}
