"""English texts of signing in."""

from __future__ import annotations

TEXTS = {
    "access.sign-in": "Sign in",
    "access.sign-out": "Sign out",
    "access.everywhere": "Sign out everywhere",
    "access.signed-in": "Signed in as {name}.",
    "access.nobody": "Nobody has a password yet.",
    "access.nobody.mend": "On the machine itself type: lastlitre people SITE.toml add NAME",
    "access.in-clear": "Signing in over this network is switched off, because a password could be "
    "read on the way.",
    "access.in-clear.mend": "Use the address that begins with https, or the machine itself. "
    "Whoever set this up finds tls_cert and logins_in_clear in the site file.",
    "sign-in.title": "Sign in",
    "sign-in.why": "Then the logbook knows who did what.",
    "sign-in.name": "Your name",
    "sign-in.password": "Your password",
    "sign-in.wrong": "Name and password do not belong together. Try again.",
    "sign-in.wait": "Too many tries. Wait {seconds} seconds, then try again.",
    "own-password.title": "Your password",
    "own-password.title-what": "Give yourself another one.",
    "own-password.now": "The password you have",
    "own-password.new": "The new one",
    "own-password.again": "The new one once more",
    "own-password.what": "At least ten characters, without your name; three or four words do well. "
    "Other browsers are signed out.",
    "own-password.change": "Change it",
    "own-password.done": "It is changed. Other browsers are signed out.",
    "own-password.wrong": "That is not the password you have. Try again.",
    "own-password.differ": "The new ones differ. Type them again.",
    "own-password.too-plain": "The new one is too short or too simple, or it holds your name. "
    "Three or four words do well.",
}
