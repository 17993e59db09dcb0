"""French texts of signing in."""

from __future__ import annotations

TEXTS = {
    "access.sign-in": "Se connecter",
    "access.sign-out": "Se déconnecter",
    "access.everywhere": "Se déconnecter partout",
    "access.signed-in": "Connecté\u00a0: {name}.",
    "access.nobody": "Personne n’a encore de mot de passe.",
    "access.nobody.mend": "Sur la machine même, tapez\u00a0: lastlitre people SITE.toml add NAME",
    "access.in-clear": "La connexion par ce réseau est désactivée\u00a0: un mot de passe pourrait "
    "être lu en chemin.",
    "access.in-clear.mend": "Utilisez l’adresse qui commence par https, ou la machine même. Qui a "
    "installé le système trouvera tls_cert et logins_in_clear dans le fichier du site.",
    "sign-in.title": "Connexion",
    "sign-in.why": "Ainsi, le carnet sait qui a fait quoi.",
    "sign-in.name": "Votre nom",
    "sign-in.password": "Votre mot de passe",
    "sign-in.wrong": "Le nom et le mot de passe ne correspondent pas. Réessayez.",
    "sign-in.wait": "Trop d’essais. Attendez {seconds} secondes, puis réessayez.",
    "own-password.title": "Votre mot de passe",
    "own-password.title-what": "En choisir un autre.",
    "own-password.now": "Mot de passe actuel",
    "own-password.new": "Nouveau mot de passe",
    "own-password.again": "Le nouveau encore une fois",
    "own-password.what": "Au moins dix caractères, sans votre nom\u202f; trois ou quatre mots "
    "conviennent bien. Les autres navigateurs seront déconnectés.",
    "own-password.change": "Changer",
    "own-password.done": "C’est changé. Les autres navigateurs sont déconnectés.",
    "own-password.wrong": "Ce n’est pas votre mot de passe actuel. Réessayez.",
    "own-password.differ": "Les deux nouveaux diffèrent. Tapez-les de nouveau.",
    "own-password.too-plain": "Le nouveau est trop court ou trop simple, ou il contient votre nom. "
    "Trois ou quatre mots conviennent bien.",
}
