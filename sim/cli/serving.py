"""A page on this machine's loopback, for the browser beside the terminal and for nobody else."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from sim.errors import Fault, OutputError
from sim.report.page.live import STATE

LOOPBACK = "127.0.0.1"
# A connection that says nothing for so long is closed. [s]
_PATIENCE_S = 10.0
_HEADERS = (
    ("Cache-Control", "no-store"),
    ("Content-Security-Policy", "frame-ancestors 'none'"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Referrer-Policy", "no-referrer"),
    ("X-Content-Type-Options", "nosniff"),
)


class Served:
    """What is served: a page and its number. One thread sets it, others read it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._page, self._answer = "", 0

    def show(self, page: str, answer: int) -> None:
        """Serve this page from now on."""
        with self._lock:
            self._page, self._answer = page, answer

    @property
    def now(self) -> tuple[str, int]:
        """The page and its number."""
        with self._lock:
            return self._page, self._answer


@contextmanager
def serving(served: Served, port: int) -> Iterator[str]:
    """Serve a page while the block runs; gives its address.

    Parameters
    ----------
    served : Served
    port : int
        0 for any that is free.

    Raises
    ------
    OutputError
        The port cannot be had.
    """
    try:
        server = _Server((LOOPBACK, port), _handler(served))
    except OSError as error:
        rule = f"cannot be served on: {error.strerror or error}; leave --port out for a free one"
        raise OutputError(Fault(rule, key="--port", value=port)) from None
    thread = threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    thread.start()
    try:
        yield f"http://{LOOPBACK}:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class _Server(ThreadingHTTPServer):
    # The program does not wait for the browser's open connections.
    daemon_threads = True
    block_on_close = False
    # With two watches on one port, either might answer.
    allow_reuse_address = False

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Print nothing when a browser hangs up."""


def _handler(served: Served) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        """Two things can be asked for: the page, and the number of the newest answer."""

        timeout = _PATIENCE_S
        server_version, sys_version = "nightledger", ""

        def do_GET(self) -> None:
            if not self._is_ours():
                self._answer(403, "text/plain", "only for the browser on this machine\n")
                return
            page, answer = served.now
            if self.path == "/":
                self._answer(200, "text/html", page)
            elif self.path == STATE:
                self._answer(200, "text/plain", f"{answer}")
            else:
                self._answer(404, "text/plain", "there is nothing here\n")

        def _is_ours(self) -> bool:
            """Whether it was asked by our own page, or opened by its address.

            Another name in Host is a name that somebody else has pointed at this machine; another
            site in Origin or Sec-Fetch-Site is a page of theirs that asks from the same browser.
            """
            port = self.connection.getsockname()[1]
            hosts = {f"{LOOPBACK}:{port}", f"localhost:{port}"}
            host = self.headers.get_all("Host", [])
            if len(host) != 1 or host[0].lower() not in hosts:
                return False
            origin = self.headers.get("Origin")
            if origin is not None and origin != f"http://{host[0].lower()}":
                return False
            site = self.headers.get("Sec-Fetch-Site", "none")
            opened = self.headers.get("Sec-Fetch-Dest") == "document"
            return site in ("none", "same-origin") or (opened and self.path == "/")

        def _answer(self, code: int, kind: str, text: str) -> None:
            body = text.encode("utf-8")
            self.send_response(code)
            for name, value in _HEADERS:
                self.send_header(name, value)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", f"{len(body)}")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: Any) -> None:
            """Print nothing: the terminal is for the answers."""

    return Handler
