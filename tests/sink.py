"""A receiver of webhooks in a process of its own: `python -m tests.sink LOG [CERTIFICATE KEY]`.

It prints its port. Each request it has read whole stands in LOG as one JSON line, synced to disk
before it is answered, so that what it took can be counted whatever becomes of the sender. How it
answers stands in the path.
"""

from __future__ import annotations

import base64
import json
import os
import ssl
import sys
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

LOG = Path(sys.argv[1])
HELD = LOG.with_suffix(".held")  # while this stands, /hold does not answer


class Handler(BaseHTTPRequestHandler):
    """Takes everything."""

    def do_POST(self) -> None:
        """Keep it, then answer as the path says."""
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        self._keep(body)
        name, _, rest = self.path.removeprefix("/").partition("/")
        getattr(self, f"_{name}", self._accept)(rest)

    do_GET = do_POST  # noqa: N815 (a redirect that were followed would come as this)

    def _keep(self, body: bytes) -> None:
        line = {
            "method": self.command,
            "path": self.path,
            "headers": {name.lower(): value for name, value in self.headers.items()},
            "body": base64.b64encode(body).decode(),
        }
        with LOG.open("a") as log:
            log.write(json.dumps(line) + "\n")
            log.flush()
            os.fsync(log.fileno())

    def _accept(self, _rest: str) -> None:
        self.send_response(204)
        self.end_headers()

    def _status(self, code: str) -> None:
        self.send_response(int(code))
        self.send_header("Location", f"http://127.0.0.1:{self.server.server_port}/followed")  # type: ignore[attr-defined]
        self.end_headers()

    def _hold(self, _rest: str) -> None:
        while HELD.exists():
            time.sleep(0.05)
        self._accept("")

    def _drip(self, _rest: str) -> None:
        """A header that never ends."""
        self.wfile.write(b"HTTP/1.1 200 OK\r\nX-Slow: ")
        for _ in range(600):
            self.wfile.write(b"x")
            time.sleep(0.05)

    def _endless(self, _rest: str) -> None:
        """A body that never ends."""
        self.wfile.write(b"HTTP/1.1 200 OK\r\n\r\n")
        for _ in range(10_000):
            self.wfile.write(b"x" * 65_536)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 (the server's)
        """Say nothing."""


def main() -> None:
    """Serve until killed."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    if len(sys.argv) > 2:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(sys.argv[2], sys.argv[3])
        server.socket = context.wrap_socket(server.socket, server_side=True)
    sys.stdout.write(f"{server.server_port}\n")
    sys.stdout.flush()
    server.serve_forever()


if __name__ == "__main__":
    main()
