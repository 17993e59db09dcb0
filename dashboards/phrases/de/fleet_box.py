"""Texts of the service company's pages about the box of a site, in German."""

from __future__ import annotations

TEXTS = {
    "box.title": "Box und Zugang",
    "box.code": "Der Code, mit dem seine Box beitritt; er wird nicht wieder gezeigt:",
    "box.code-then": "Er gilt einmal. Auf der Box:",
    "box.give": "Code ausgeben",
    "box.give-what": "Mit ihm tritt eine Box als dieser Standort bei. Eine Box, die bisher für "
    "ihn gesprochen hat, wird getrennt.",
    "box.joined": "Seit {day} spricht eine Box für ihn, mit dem Zugang {login}.",
    "box.waits": "Ein Code ist noch nicht eingelöst; er gilt bis {moment}.",
    "box.none": "Noch ist keine Box mit einem Code beigetreten.",
    "box.revoke": "Zugang entziehen",
    "box.revoke-what": "Seine Box wird sofort vom Broker getrennt, und ein nicht eingelöster Code "
    "gilt nicht mehr. Die Box misst weiter.",
    "box.claimed": "Unter seinem Namen spricht noch eine andere Box (seit {moment}). Nur eine "
    "wird gehört.",
    "box.take": "Neue Box nehmen",
    "box.take-what": "Ab jetzt wird die Box {box} gehört, und ihre Aufzeichnung beginnt neu; was "
    "die alte gemeldet hat, bleibt.",
    "box.keep": "Alte Box behalten",
    "box.keep-what": "Weiter wird die Box {box} gehört. Meldet sich die andere wieder, kommt "
    "diese Frage zurück.",
    "audit.act.site.code-withdrawn": "Beitrittscode zurückgezogen",
    "audit.act.site.box-taken": "neue Box genommen",
    "audit.act.site.box-kept": "alte Box behalten",
    "fleet.fault.broker": "Der Broker folgt gerade nicht; der Zugang gilt vielleicht noch. "
    "Versuchen Sie es noch einmal.",
    "fleet.fault.box": "Diese Box gibt sich nicht mehr als der Standort aus.",
    "fleet.fault.no-joining": "Diese Flotte gibt keine Codes aus: In ihrer Datei fehlt die "
    "Tabelle [sites].",
}
