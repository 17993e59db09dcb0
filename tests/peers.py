"""Real servers on loopback for tests: a broker, a time-series store, and a strict front for it.

Each is a context manager that starts the server in a folder of its own on a free port, waits until
it answers, and always cleans up. Servers can be killed without mercy and started again on the same
port and data. `MissingPeer` says which Debian package brings a program that is not there.
"""

from __future__ import annotations

import gzip
import http.server
import json
import os
import shutil
import socket
import subprocess
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar

PATIENCE_S = 20.0
PACKAGES = {
    "mosquitto": "mosquitto",
    "mosquitto_passwd": "mosquitto",
    "victoria-metrics": "victoria-metrics",
    "openssl": "openssl",
    "systemd-analyze": "systemd",
    "postgres": "postgresql",
}
"""The Debian package of each program."""
NEW_KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes")


class MissingPeer(Exception):  # noqa: N818 - it says what is the matter
    """Raised when a program the tests need is not on this machine."""


def program(name: str) -> str:
    """The program's path; raises MissingPeer."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if found is None:
        package = PACKAGES[name]
        raise MissingPeer(
            f"The program {name} is not on this machine. "
            f"Install the Debian package {package}: apt-get install {package}"
        )
    return found


def free_port() -> int:
    """A port nobody listens on at this moment."""
    with socket.socket() as line:
        line.bind(("127.0.0.1", 0))
        return int(line.getsockname()[1])


def eventually(what: str, true: Callable[[], Any], patience_s: float = PATIENCE_S) -> Any:
    """Wait until `true()` gives something true, and return it; fails with what was waited for."""
    end = time.monotonic() + patience_s
    while not (found := true()):
        if time.monotonic() > end:
            raise AssertionError(f"waited {patience_s:g} s in vain: {what}")
        time.sleep(0.02)
    return found


def listens(port: int) -> bool:
    """Whether somebody takes a connection at this port."""
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


class Server:
    """A server process: started, stopped, killed, started again."""

    def __init__(self, command: list[str], port: int, said: Path) -> None:
        self.port = port
        self._command = command
        self._said = said
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start and wait until it takes connections."""
        with self._said.open("ab") as said:
            self._process = subprocess.Popen(self._command, stdout=said, stderr=said)
        process = self._process
        eventually(
            f"{self._command[0]} to listen",
            lambda: listens(self.port) or process.poll() is not None,
        )
        if process.poll() is not None:
            raise AssertionError(f"{self._command[0]} ended at once:\n{self.said()}")

    def kill(self) -> None:
        """End it as a power cut would, and wait until it is gone."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(PATIENCE_S)
            self._process = None

    def stop(self) -> None:
        """Ask it to end, and kill it when it does not."""
        if self._process is not None:
            self._process.terminate()
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(5)
            self.kill()

    @property
    def pid(self) -> int:
        """The process's id, while it runs."""
        assert self._process is not None
        return self._process.pid

    def said(self) -> str:
        """All it has written so far."""
        return self._said.read_text(errors="replace")


S = TypeVar("S", bound=Server)


def started(make: Callable[[int], S]) -> S:
    """Start on a free port, on another one where somebody was quicker."""
    for _ in range(4):
        server = make(free_port())
        with suppress(AssertionError):
            server.start()
            return server
        server.kill()
    server.start()
    return server


class Broker(Server):
    """A Mosquitto. `ca_file` is set where it speaks TLS only."""

    ca_file: str = ""


@contextmanager
def broker(folder: Path, *settings: str, tls: bool = False) -> Iterator[Broker]:
    """A Mosquitto that lets everybody in, with further lines for its configuration file."""
    folder.mkdir(parents=True, exist_ok=True)
    keys = throwaway_keys(folder) if tls else None

    def make(port: int) -> Broker:
        lines = [f"listener {port} 127.0.0.1", "user root", *settings]
        if not any(line.startswith("log_type ") for line in settings):
            lines.append("log_type all")
        if not any(line.startswith(("allow_anonymous", "password_file")) for line in settings):
            lines.append("allow_anonymous true")
        if not any(line.startswith("persistence ") for line in settings):
            lines.append("persistence false")
        if keys is not None:
            lines += [f"certfile {keys / 'server.pem'}", f"keyfile {keys / 'server.key'}"]
        lines.append(f"persistence_location {folder}/")
        (folder / "broker.conf").write_text("\n".join(lines) + "\n")
        command = [program("mosquitto"), "-c", str(folder / "broker.conf")]
        return Broker(command, port, folder / "broker.log")

    server = started(make)
    server.ca_file = str(keys / "ca.pem") if keys is not None else ""
    try:
        yield server
    finally:
        server.stop()


def password_file(folder: Path, user: str, password: str) -> Path:
    """A Mosquitto password file that knows one user."""
    path = folder / "passwords"
    run(program("mosquitto_passwd"), "-b", "-c", str(path), user, password)
    return path


def throwaway_keys(folder: Path) -> Path:
    """An authority made for this test, and keys it vouches for: `server` at localhost, `site`."""
    keys = folder / "keys"
    keys.mkdir()
    run(
        program("openssl"), "req", "-x509", *NEW_KEY, "-keyout", str(keys / "ca.key"),
        "-out", str(keys / "ca.pem"), "-days", "2", "-subj", "/CN=Test authority",
    )  # fmt: skip
    _vouched_for(keys, "server", "localhost")
    _vouched_for(keys, "site", "harbour-steps")
    return keys


def _vouched_for(keys: Path, name: str, host: str) -> None:
    """A key and its certificate, signed by the authority in the folder."""
    openssl, asked = program("openssl"), str(keys / f"{name}.csr")
    run(
        openssl, "req", "-new", *NEW_KEY, "-keyout", str(keys / f"{name}.key"), "-out", asked,
        "-subj", f"/CN={host}",
    )  # fmt: skip
    (keys / "names").write_text(f"subjectAltName=DNS:{host}\n")
    run(
        openssl, "x509", "-req", "-in", asked, "-CA", str(keys / "ca.pem"),
        "-CAkey", str(keys / "ca.key"), "-CAcreateserial", "-out", str(keys / f"{name}.pem"),
        "-days", "2", "-extfile", str(keys / "names"),
    )  # fmt: skip


def run(*command: str) -> None:
    """Run a command to its end; fails with what it said."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
    if done.returncode:
        raise AssertionError(f"{' '.join(command)}: {done.stderr}")


class TimeSeriesStore(Server):
    """A VictoriaMetrics."""

    @property
    def url(self) -> str:
        """Its address."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start and wait until it answers."""
        super().start()
        eventually("the store to be healthy", lambda: _answers(f"{self.url}/health"))

    def write(self, lines: bytes) -> None:
        """Write lines as they are, instants in milliseconds."""
        request = urllib.request.Request(
            f"{self.url}/api/v2/write?precision=ms", data=lines, method="POST"
        )
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            assert answer.status == 204

    def samples(self, match: str = '{site!=""}') -> set[tuple[str, tuple[str, ...], int, float]]:
        """Every sample as (series, other labels as "name=value", ms, value), merged as stored.

        Fails where a sample of a series is there twice.
        """
        _fetch(f"{self.url}/internal/force_flush")
        query = urllib.parse.urlencode(
            {"match[]": match, "start": "2000-01-01T00:00:00Z", "end": "2099-01-01T00:00:00Z"}
        )
        answer = _fetch(f"{self.url}/api/v1/export?{query}&reduce_mem_usage=0")
        found: set[tuple[str, tuple[str, ...], int, float]] = set()
        for line in answer.splitlines():
            series = json.loads(line)
            labels = dict(series["metric"])
            name = labels.pop("__name__")
            others = tuple(sorted(f"{k}={v}" for k, v in labels.items()))
            rows = list(zip(series["timestamps"], series["values"], strict=True))
            new = {(name, others, at_ms, value) for at_ms, value in rows}
            assert len({at_ms for at_ms, _ in rows}) == len(rows), f"{name} has an instant twice"
            found |= new
        return found


@contextmanager
def time_series_store(folder: Path, *flags: str) -> Iterator[TimeSeriesStore]:
    """A VictoriaMetrics that keeps everything and shows it at once."""
    folder.mkdir(parents=True, exist_ok=True)

    def make(port: int) -> TimeSeriesStore:
        command = [
            program("victoria-metrics"),
            "-retentionPeriod=100y",
            "-search.latencyOffset=0s",
            "-dedup.minScrapeInterval=1ms",
            "-memory.allowedBytes=128MiB",
            f"-storageDataPath={folder / 'data'}",
            f"-httpListenAddr=127.0.0.1:{port}",
            *flags,
        ]
        return TimeSeriesStore(command, port, folder / "store.log")

    server = started(make)
    try:
        yield server
    finally:
        server.stop()


def _fetch(url: str) -> str:
    with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:
        return str(answer.read().decode())


def _answers(url: str) -> bool:
    try:
        _fetch(url)
    except (OSError, urllib.error.URLError):
        return False
    return True


class Front:
    """An HTTP server that judges every write and passes the good ones on to a real store.

    `judge` gets the lines of a request and the headers: (status, headers, words) to answer with, or
    None to pass the request on. `seen` counts requests, `lines` holds those passed on.
    """

    def __init__(self, behind: str) -> None:
        self.judge: Callable[[list[str]], tuple[int, dict[str, str], str] | None] = lambda _: None
        self.seen = 0
        self.lines: list[str] = []
        self.headers: list[dict[str, str]] = []
        self.behind = behind
        self.port = 0

    @property
    def url(self) -> str:
        """Its address."""
        return f"http://127.0.0.1:{self.port}"

    def answer(self, path: str, headers: dict[str, str], body: bytes) -> tuple[int, Any, bytes]:
        """Judge one request: status, headers and words of the answer."""
        self.seen += 1
        self.headers.append(headers)
        plain = gzip.decompress(body) if headers.get("content-encoding") == "gzip" else body
        lines = plain.decode().splitlines()
        verdict = self.judge(lines)
        if verdict is not None:
            return verdict[0], verdict[1], verdict[2].encode()
        self.lines += lines
        if self.behind:
            onward = urllib.request.Request(self.behind + path, data=plain, method="POST")
            with urllib.request.urlopen(onward, timeout=PATIENCE_S) as answer:
                return int(answer.status), {}, b""
        return 204, {}, b""


@contextmanager
def front(behind: str = "") -> Iterator[Front]:
    """A front for the store at `behind`; without one it takes everything and keeps nothing."""
    judge = Front(behind)

    class Handler(http.server.BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            given = {name.lower(): value for name, value in self.headers.items()}
            status, headers, words = judge.answer(self.path, given, body)
            self.send_response_only(status)
            if "Date" not in headers:
                self.send_header("Date", self.date_time_string())
            for name, value in headers.items():
                self.send_header(name, value)
            if status != 204:
                self.send_header("Content-Length", str(len(words)))
            with suppress(OSError):  # who asked may have lost patience
                self.end_headers()
                self.wfile.write(words if status != 204 else b"")

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing."""

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.daemon_threads = True
        judge.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield judge
        finally:
            server.shutdown()
            thread.join()
