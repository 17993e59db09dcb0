"""A program far away that is told of alarms: a real https server on loopback."""

from __future__ import annotations

import http.server
import ssl
import subprocess
import threading
from pathlib import Path

from firmware_bridge.fleet.reach import Reach


def certificate(folder: Path, name: str) -> tuple[str, str]:
    """A certificate that vouches for itself under this name, and its key."""
    cert, key = folder / "far.crt", folder / "far.key"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
         "-nodes", "-keyout", str(key), "-out", str(cert), "-days", "2", "-subj", f"/CN={name}",
         "-addext", f"subjectAltName=DNS:{name}"],
        check=True, capture_output=True,
    )  # fmt: skip
    return str(cert), str(key)


class Far:
    """A server of ours that stands for one far away; `seen` are the paths it was posted to."""

    def __init__(self, folder: Path) -> None:
        cert, key = certificate(folder, "far.example")
        self.seen: list[tuple[str, bytes, str]] = []
        self.answer = 204
        far = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["content-length"]))
                far.seen.append((self.path, body, self.headers.get("webhook-signature", "")))
                self.send_response(far.answer)
                if far.answer in (301, 307):
                    self.send_header("location", "https://far.example/elsewhere")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Quiet."""

        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(cert, key)
        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.socket = context.wrap_socket(self._server.socket, server_side=True)
        self.port = self._server.server_address[1]
        self.trust = ssl.create_default_context(cafile=cert)
        self._thread = threading.Thread(target=self._server.serve_forever)
        self._thread.start()

    @property
    def url(self) -> str:
        """Its address, by a name no look-up knows."""
        return f"https://far.example:{self.port}/told?x=1"

    def reach(self, *addresses: str) -> Reach:
        """A way to it, as if loopback were public; a look-up gives these in turn."""
        given = list(addresses or ("127.0.0.1",))
        return Reach(
            may=lambda address: str(address) == "127.0.0.1",
            resolve=lambda host, port: [given.pop(0) if len(given) > 1 else given[0]],
            context=self.trust,
        )

    def stop(self) -> None:
        """Hang up."""
        self._server.shutdown()
        self._thread.join(20)
        self._server.server_close()
