"""Italian texts of signing in."""

from __future__ import annotations

TEXTS = {
    "access.sign-in": "Accedi",
    "access.sign-out": "Esci",
    "access.everywhere": "Esci ovunque",
    "access.signed-in": "Accesso come {name}.",
    "access.nobody": "Nessuno ha ancora una password.",
    "access.nobody.mend": "Sul computer stesso digitare: lastlitre people SITE.toml add NAME",
    "access.in-clear": "L'accesso da questa rete è disattivato, perché lungo il percorso si "
    "potrebbe leggere una password.",
    "access.in-clear.mend": "Usare l'indirizzo che comincia con https, o il computer stesso. Chi "
    "ha installato il sistema trova tls_cert e logins_in_clear nel file della sede.",
    "sign-in.title": "Accesso",
    "sign-in.why": "Così il registro sa chi ha fatto che cosa.",
    "sign-in.name": "Nome",
    "sign-in.password": "Password",
    "sign-in.wrong": "Nome e password non corrispondono. Riprovare.",
    "sign-in.wait": "Troppi tentativi. Attendere {seconds} secondi, poi riprovare.",
    "own-password.title": "La Sua password",
    "own-password.title-what": "Cambiare la propria password.",
    "own-password.now": "Password attuale",
    "own-password.new": "Password nuova",
    "own-password.again": "Password nuova, ripetuta",
    "own-password.what": "Almeno dieci caratteri, senza il proprio nome; vanno bene tre o quattro "
    "parole. Gli altri browser vengono scollegati.",
    "own-password.change": "Cambia",
    "own-password.done": "Password cambiata. Gli altri browser sono stati scollegati.",
    "own-password.wrong": "La password attuale non è questa. Riprovare.",
    "own-password.differ": "Le due password nuove non coincidono. Riscriverle.",
    "own-password.too-plain": "La password nuova è troppo corta o troppo semplice, oppure "
    "contiene il nome. Vanno bene tre o quattro parole.",
}
