"""Texts of the service company's pages about the box of a site, in Italian."""

from __future__ import annotations

TEXTS = {
    "box.title": "Centralina e accesso",
    "box.code": "Il codice con cui la centralina aderisce; non viene più mostrato:",
    "box.code-then": "Vale una sola volta. Sulla centralina:",
    "box.give": "Rilascia un codice",
    "box.give-what": "Con il codice una centralina aderisce come questa sede. Quella che parlava "
    "per la sede fino ad allora viene scollegata.",
    "box.joined": "Dal {day} una centralina parla per la sede, con l’accesso {login}.",
    "box.waits": "Un codice attende di essere usato; scadenza: {moment}.",
    "box.none": "Nessuna centralina ha aderito con un codice.",
    "box.revoke": "Revoca l’accesso",
    "box.revoke-what": "La centralina viene subito scollegata dal broker e un codice in attesa "
    "non vale più. La centralina continua a misurare.",
    "box.claimed": "Un’altra centralina parla con il nome della sede (da: {moment}). Se ne "
    "ascolta una sola.",
    "box.take": "Prendi la nuova",
    "box.take-what": "D’ora in poi si ascolta la centralina {box}, e le sue registrazioni "
    "ripartono da zero; ciò che ha comunicato la vecchia resta.",
    "box.keep": "Tieni la vecchia",
    "box.keep-what": "Si continua ad ascoltare la centralina {box}. Se l’altra parla di nuovo, la "
    "domanda si ripresenta.",
    "audit.act.site.code-withdrawn": "codice di adesione ritirato",
    "audit.act.site.box-taken": "nuova centralina presa",
    "audit.act.site.box-kept": "vecchia centralina tenuta",
    "fleet.fault.broker": "Il broker ora non esegue: l’accesso potrebbe valere ancora. Riprovare.",
    "fleet.fault.box": "Questa centralina non dice più di essere la sede.",
    "fleet.fault.no-joining": "Questa flotta non rilascia codici: nel suo file manca la tabella "
    "[sites].",
}
