"""French: the media and their cautions."""

from __future__ import annotations

TEXTS = {
    "medium.hydrogen": "hydrogène",
    "medium.mixed": "hydrogène et magnésium",
    "medium.magnesium": "magnésium",
    "medium.sodium": "sodium",
    "medium.membrane": "membrane",
    "medium.carbon": "charbon",
    "medium.polyphosphate": "polyphosphate",
    "footer.cartridge": "cartouche\u00a0: {medium}, posée le {day}",
    "footer.cartridge-no-day": "cartouche\u00a0: {medium}",
    "care.hydrogen": "Ce média rend l’eau plus acide. Là où presque toute l’alcalinité est "
    "retirée, elle peut corroder chaudières et tuyaux.",
    "care.mixed": "Ce média rend l’eau plus acide. Là où presque toute l’alcalinité est retirée, "
    "elle peut corroder chaudières et tuyaux.",
    "care.sodium": "Ce média ajoute du sodium\u00a0: environ 8\u202fmg par litre pour chaque °dH "
    "retiré. Prévenez les clients qui suivent un régime pauvre en sodium.",
    "care.magnesium": "Le magnésium reste dans l’eau\u00a0: une chaudière à vapeur peut encore "
    "s’en couvrir.",
    "care.membrane": "L’eau d’une membrane est très douce\u00a0: elle corrode les chaudières si "
    "l’on n’y remet pas de minéraux.",
    "care.polyphosphate": "La dureté est masquée, pas retirée\u00a0: des films et des boues "
    "peuvent boucher les passages fins d’une machine à espresso.",
    "care.any": "Après des jours sans usage, rincez avant de boire. Une cartouche ne rend pas "
    "potable une eau qui ne l’est pas.",
}
