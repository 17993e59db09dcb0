"""German texts of signing in."""

from __future__ import annotations

TEXTS = {
    "access.sign-in": "Anmelden",
    "access.sign-out": "Abmelden",
    "access.everywhere": "Überall abmelden",
    "access.signed-in": "Angemeldet: {name}.",
    "access.nobody": "Noch hat niemand ein Passwort.",
    "access.nobody.mend": "Geben Sie auf dem Gerät selbst ein: lastlitre people SITE.toml add NAME",
    "access.in-clear": "Die Anmeldung über dieses Netz ist abgeschaltet, weil das Passwort "
    "unterwegs mitgelesen werden könnte.",
    "access.in-clear.mend": "Nehmen Sie die Adresse, die mit https beginnt, oder das Gerät selbst. "
    "Wer die Anlage eingerichtet hat, findet tls_cert und logins_in_clear in der Standortdatei.",
    "sign-in.title": "Anmelden",
    "sign-in.why": "Dann steht im Logbuch, wer was getan hat.",
    "sign-in.name": "Ihr Name",
    "sign-in.password": "Ihr Passwort",
    "sign-in.wrong": "Name und Passwort gehören nicht zusammen. Bitte noch einmal.",
    "sign-in.wait": "Zu viele Versuche. Warten Sie {seconds}\u202fSekunden und versuchen Sie es "
    "dann noch einmal.",
    "own-password.title": "Ihr Passwort",
    "own-password.title-what": "Geben Sie sich ein anderes.",
    "own-password.now": "Ihr jetziges Passwort",
    "own-password.new": "Das neue",
    "own-password.again": "Das neue noch einmal",
    "own-password.what": "Mindestens zehn Zeichen, ohne Ihren Namen; drei oder vier Wörter eignen "
    "sich gut. Andere Browser werden abgemeldet.",
    "own-password.change": "Ändern",
    "own-password.done": "Es ist geändert. Andere Browser sind abgemeldet.",
    "own-password.wrong": "Das ist nicht Ihr jetziges Passwort. Bitte noch einmal.",
    "own-password.differ": "Die neuen sind verschieden. Geben Sie sie noch einmal ein.",
    "own-password.too-plain": "Das neue ist zu kurz oder zu einfach, oder es enthält Ihren Namen. "
    "Drei oder vier Wörter eignen sich gut.",
}
