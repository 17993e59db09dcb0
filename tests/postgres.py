"""A real PostgreSQL on loopback, run by a user without rights where the tests run as root."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.peers import PACKAGES, PATIENCE_S, MissingPeer, Server, eventually, free_port, listens

OWNER = "lastlitre"
LOOSE = ("fsync = off", "full_page_writes = off")
"""Kill -9 leaves the kernel's memory alone, so this is safe against it, and quick."""


def binaries() -> Path:
    """The folder of the newest PostgreSQL's programs; raises MissingPeer."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda p: float(p.parts[4])
    )
    if not found:
        package = PACKAGES["postgres"]
        raise MissingPeer(
            f"PostgreSQL is not on this machine. Install the Debian package {package}:"
            f" apt-get install {package}"
        )
    return found[-1].parent


def _user() -> dict[str, Any]:
    """PostgreSQL refuses to run as root; Debian's package brings a user for it."""
    if os.geteuid() != 0:
        return {}
    entry = pwd.getpwnam("postgres")
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


class Postgres(Server):
    """A PostgreSQL. `url` leads to a database of it."""

    def __init__(self, command: list[str], port: int, said: Path, folder: Path) -> None:
        super().__init__(command, port, said)
        self.folder = folder
        self._made = 0

    def start(self) -> None:
        """Start and wait until it answers; after a kill its children may take a moment to go."""
        with self._said.open("ab") as said:

            def begin() -> bool:
                self._process = subprocess.Popen(
                    self._command, stdout=said, stderr=said, cwd="/", **_user()
                )
                process = self._process
                eventually(
                    "PostgreSQL to listen or end",
                    lambda: process.poll() is not None or listens(self.port),
                )
                return process.poll() is None

            eventually("PostgreSQL to start", begin)
        eventually("PostgreSQL to answer", self._answers)

    def url(self, database: str = "postgres") -> str:
        """The address of a database."""
        return f"postgresql+psycopg://{OWNER}@127.0.0.1:{self.port}/{database}"

    def new_database(self) -> str:
        """The address of a database that was not there before."""
        self._made += 1
        name = f"fleet_{os.getpid()}_{self._made}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE template0")
        return self.url(name)

    def drop(self, url: str) -> None:
        """Take a database away, whoever still looks at it."""
        self.execute(f"DROP DATABASE {url.rsplit('/', 1)[1]} WITH (FORCE)")

    def execute(self, statement: str) -> None:
        """One statement in the database `postgres`."""
        import psycopg

        where = f"host=127.0.0.1 port={self.port} user={OWNER} dbname=postgres"
        with psycopg.connect(where, autocommit=True, connect_timeout=5) as connection:
            connection.execute(statement)

    def _answers(self) -> bool:
        import psycopg

        try:
            self.execute("SELECT 1")
        except psycopg.Error:
            return False
        return True


@contextmanager
def postgres(*settings: str) -> Iterator[Postgres]:
    """A PostgreSQL with further lines for its configuration file, in a folder of its own."""
    folder = Path(tempfile.mkdtemp(prefix="lastlitre-pg-"))
    try:
        entry = _user()
        if entry:
            os.chown(folder, entry["user"], entry["group"])
        data, port = folder / "data", free_port()
        made = subprocess.run(
            [str(binaries() / "initdb"), "-D", str(data), "-U", OWNER, "-A", "trust", "--no-sync",
             "-E", "UTF8", "--locale=C"],
            capture_output=True, text=True, timeout=PATIENCE_S * 3, check=False, cwd="/", **entry,
        )  # fmt: skip
        assert made.returncode == 0, made.stderr
        lines = [
            f"port = {port}", "listen_addresses = '127.0.0.1'", "max_connections = 40",
            f"unix_socket_directories = '{folder}'", "shared_buffers = 64MB", *settings,
        ]  # fmt: skip
        with (data / "postgresql.conf").open("a") as file:
            file.write("\n".join(lines) + "\n")
        command = [str(binaries() / "postgres"), "-D", str(data)]
        server = Postgres(command, port, folder / "said.log", folder)
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
