"""Texts of the service company's pages about the box of a site."""

from __future__ import annotations

TEXTS = {
    "box.title": "Box and login",
    "box.code": "The code by which its box joins; it is not shown again:",
    "box.code-then": "It works once. On the box:",
    "box.give": "Give a code",
    "box.give-what": "With it one box joins as this site. A box that spoke for it until then is "
    "cut off.",
    "box.joined": "A box speaks for it since {day}, by the login {login}.",
    "box.waits": "A code waits to be used until {moment}.",
    "box.none": "No box has joined by a code.",
    "box.revoke": "Revoke its login",
    "box.revoke-what": "Its box is cut off from the broker at once, and a code that waits works "
    "no more. The box goes on measuring.",
    "box.claimed": "Since {moment} another box speaks under its name. Only one is heard.",
    "box.take": "Take the new box",
    "box.take-what": "Box {box} is heard from now on, and its record begins anew; what the old "
    "one told stays.",
    "box.keep": "Keep the old box",
    "box.keep-what": "Box {box} stays the one that is heard. If the other speaks again, this "
    "question comes back.",
    "audit.act.site.code-withdrawn": "code to join withdrawn",
    "audit.act.site.box-taken": "new box taken",
    "audit.act.site.box-kept": "old box kept",
    "fleet.fault.broker": "The broker does not do as told just now, so the login may still work. "
    "Try again.",
    "fleet.fault.box": "This box does not claim the site any more.",
    "fleet.fault.no-joining": "This fleet gives no codes: its file has no [sites] table.",
}
