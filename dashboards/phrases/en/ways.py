"""English texts of how rows and messages leave the box."""

from __future__ import annotations

TEXTS = {
    "ways.title": "Where it goes",
    "ways.rows.starting": "Rows: it is just starting.",
    "ways.rows.flowing": "Rows arrive.",
    "ways.rows.unconfirmed": "Rows go out, and nobody says that they are safe.",
    "ways.rows.away": "Rows do not get through; it is tried again by itself.",
    "ways.rows.refused": "Rows are refused until somebody mends something.",
    "ways.rows.stopped": "Rows: it has stopped.",
    "ways.messages.ready": "Messages can be sent.",
    "ways.messages.away": "Messages do not get through; it is tried again by itself.",
    "ways.messages.refused": "Messages are refused until somebody mends something.",
    "ways.rows.none": "None wait.",
    "ways.rows.wait": "{n} wait; nothing is lost.",
    "ways.messages.none": "None wait.",
    "ways.messages.wait": "{n} wait.",
    "ways.oldest": "The oldest: {when}.",
    "ways.worked": "Last one through: {when}.",
    "ways.never": "None got through since the start.",
    "ways.fault": "Last fault: {fault}",
    "ways.fault-when": "Last fault ({when}): {fault}",
}
