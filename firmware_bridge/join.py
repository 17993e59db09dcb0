"""A site joins a fleet: it shows the code it was given, and learns where its rows go.

The box makes its secret itself and keeps it in a file that only its owner reads, before it asks for
anything: where the answer is lost, asking again with the same code is all it takes. The site file
keeps every word a person wrote; a table of its own is put at its end.
"""

from __future__ import annotations

import http.client
import os
import secrets
import shutil
import ssl
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import msgspec

from analytics.errors import LastLitreError, LinkError
from firmware_bridge import config
from firmware_bridge.config.writing import table
from firmware_bridge.fleet.identity.codes import plain
from firmware_bridge.fleet.identity.words import JOIN_PATH, Claim, Joined
from firmware_bridge.secrets import secret

SINK = "fleet"
BEGINS = "# lastlitre join wrote this table, and replaces it when this site joins anew"
ENDS = "# end of what lastlitre join wrote"
ANSWER_S = 30.0
LARGEST_ANSWER = 200_000
HOME = frozenset(("localhost", "127.0.0.1", "::1"))


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """What came of joining. `lines` are to be added by hand where the file was left alone."""

    joined: Joined
    lines: str = ""
    why: str = ""


class _Problem(msgspec.Struct):
    detail: str = ""


def join(site_file: Path, code: str, address: str, ca_file: Path | None = None) -> Told:
    """Join the fleet at this address. The code works once, for the site it was given for.

    Raises LastLitreError: for a mistyped code before anything is sent, for a site file with
    faults, where the fleet refuses, or does not answer (then the same again is all right).
    """
    plain(code)
    path = Path(os.path.realpath(site_file))
    site = config.load(path)
    where = _checked(address)
    pending, kept = _files(path)
    claim = Claim(code=code, site=site.setup.site_id, secret=_own_secret(pending))
    joined = _asked(where, claim, ca_file)
    ca = path.with_suffix(".fleet.pem")
    if joined.ca:
        ca.write_text(joined.ca, encoding="utf-8")
    lines = _lines(joined, kept.name, ca.name)
    why = _written(path, lines)
    pending.replace(kept)
    _give_to_the_daemon(Path(site.wiring.store_path), path, kept, ca)
    return Told(joined=joined, lines=lines if why else "", why=why)


def _files(path: Path) -> tuple[Path, Path]:
    """Where the secret stands while the answer is awaited, and where from then on."""
    return path.with_suffix(".fleet.secret.new"), path.with_suffix(".fleet.secret")


def _own_secret(pending: Path) -> str:
    """The secret of an attempt that had no answer, or a new one, kept before it is used."""
    if pending.exists():
        return str(secret(f"file:{pending}", "join"))
    made = secrets.token_urlsafe(32)
    try:
        handle = os.open(pending, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(f"{made}\n".encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as exc:
        raise LastLitreError(
            f"{pending} cannot be written ({exc.strerror}).",
            "Join as the user the site runs as, who owns this folder.",
        ) from exc
    return made


def _give_to_the_daemon(store: Path, site_file: Path, *made: Path) -> None:
    """Files that root made belong to whoever runs the site: the owner of its record."""
    if os.geteuid() != 0:
        return
    owner = (store if store.exists() else site_file).stat()
    for path in made:
        if path.exists():
            os.chown(path, owner.st_uid, owner.st_gid)


def _checked(address: str) -> str:
    """The address to ask; raises LastLitreError where a secret would travel in the open."""
    whole = address if "://" in address else f"https://{address}"
    try:
        parts = urlsplit(whole)
        usable = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        usable = False
    if not usable or parts.username is not None:
        raise LastLitreError(
            f"{address!r} is not the address of a fleet.", "Such as: https://fleet.example"
        )
    if parts.scheme == "http" and parts.hostname not in HOME:
        raise LastLitreError(
            "Without https the site's secret could be read on the way; nothing was sent.",
            f"Ask for the fleet's https address, such as: https://{parts.hostname}",
        )
    return f"{parts.scheme}://{parts.netloc}{JOIN_PATH}"


class _Straight(urllib.request.HTTPRedirectHandler):
    """Follows nobody: who answers "ask elsewhere" is no fleet."""

    def redirect_request(self, *_: Any) -> None:
        return None


def _asked(where: str, claim: Claim, ca_file: Path | None) -> Joined:
    request = urllib.request.Request(
        where,
        data=msgspec.json.encode(claim),
        headers={"content-type": "application/json", "accept": "application/json"},
        method="POST",
    )
    try:
        opener = urllib.request.build_opener(
            _Straight, urllib.request.HTTPSHandler(context=_trust(ca_file))
        )
        with opener.open(request, timeout=ANSWER_S) as answer:
            return msgspec.json.decode(answer.read(LARGEST_ANSWER), type=Joined)
    except urllib.error.HTTPError as exc:
        raise _refusal(exc, where) from exc
    except (OSError, http.client.HTTPException) as exc:
        raise _silence(exc, where) from exc
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as exc:
        raise LinkError(f"{where} answers, but not as a fleet does.", "Check the address.") from exc


def _trust(ca_file: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=ca_file)
    except (OSError, ssl.SSLError) as exc:
        raise LastLitreError(
            f"{ca_file} cannot be used: {exc}.", "Name a file of certificates in PEM form."
        ) from exc


def _refusal(exc: urllib.error.HTTPError, where: str) -> LastLitreError:
    """The fleet's own words where it has some."""
    with exc:
        body = exc.read(LARGEST_ANSWER)
    try:
        said = msgspec.json.decode(body, type=_Problem).detail
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        said = ""
    said = "".join(sign if sign.isprintable() else " " for sign in said)[:500]
    if not said:
        return LinkError(f"{where} answers {exc.code}.", "Check the address.")
    if exc.code >= 500:
        return LinkError(said, "Try the same again in a minute; the code stays good.")
    return LastLitreError(said)


def _silence(exc: Exception, where: str) -> LinkError:
    reason = getattr(exc, "reason", exc)
    if isinstance(reason, ssl.SSLError):
        mend = "Check the address; where the fleet has an authority of its own: --ca FILE"
        return LinkError(f"{where}: no safe connection: {reason}.", mend)
    mend = "Check network and address, then try the same again: the code stays good for this box."
    return LinkError(f"{where} does not answer: {reason}.", mend)


def _lines(joined: Joined, secret_file: str, ca_file: str) -> str:
    """The table of the sink, between the two lines by which it is found again."""
    entries: dict[str, object] = {
        "kind": "mqtt",
        "id": SINK,
        "host": joined.host,
        "port": joined.port,
        "tls": joined.tls,
        "ca_file": ca_file if joined.ca and joined.tls else None,
        "topic_prefix": joined.topic_prefix,
        "client_id": joined.login,
        "user": joined.login,
        "password_file": secret_file,
    }
    return f"{BEGINS}\n{table('[[sink]]', entries)}{ENDS}\n"


def _written(path: Path, lines: str) -> str:
    """Put the table into the site file; why the file was left alone instead, where it was."""
    before = path.read_bytes().decode("utf-8-sig")
    after = _composed(before, lines)
    half = path.with_name(f".{path.stem}.{secrets.token_hex(6)}.toml")
    try:
        half.write_bytes(after.encode())
        faults = config.check(half)
        if faults:
            return f"With the table in it the file would have a fault: {faults[0].problem}."
        shutil.copystat(path, half)
        _give_to_the_daemon(path, path, half)
        half.replace(path)
    except OSError as exc:
        return f"{path} cannot be written ({exc.strerror})."
    finally:
        half.unlink(missing_ok=True)
    return ""


def _composed(before: str, lines: str) -> str:
    """The file's text with the table in place of its earlier self, else at its end."""
    start, end = before.find(BEGINS), before.find(ENDS)
    if 0 <= start < end:
        return before[:start] + lines + before[end + len(ENDS) :].removeprefix("\n")
    gap = "\n" if before.endswith("\n") else "\n\n"
    return before + gap + lines
