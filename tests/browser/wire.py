"""A wire between a browser and the server that can be cut, and that can lose an answer after the server has acted."""

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "server", "date"}


class Wire:
    """What the test does to the wire.

    Attributes:
        is_cut: nothing gets through.
        loses: paths whose answers are lost: the server acts, the browser never hears of it.
        passed: (method, path) of every request that reached the server.
    """

    def __init__(self, server_url: str) -> None:
        self.server = urlsplit(server_url).netloc
        self.is_cut = False
        self.loses: set[str] = set()
        self.passed: list[tuple[str, str]] = []
        self.url = ""

    def sent(self, path: str) -> int:
        return sum(each == path for method, each in self.passed if method == "POST")


@contextmanager
def wire_to(server_url: str) -> Iterator[Wire]:
    """Lay a wire to a server, on a loopback port of its own."""
    wire = Wire(server_url)

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *said: object) -> None:
            pass

        def _pass(self) -> None:
            self.close_connection = True
            if wire.is_cut:
                return
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            line = http.client.HTTPConnection(wire.server, timeout=60)
            line.request(self.command, self.path, body, dict(self.headers.items()) | {"Connection": "close"})
            answer = line.getresponse()
            content = answer.read()
            wire.passed.append((self.command, self.path))
            if wire.is_cut or self.path in wire.loses:
                return
            # A page that is gone by now waits for nothing.
            with suppress(ConnectionError):
                self._answer(answer, content)

        def _answer(self, answer: http.client.HTTPResponse, content: bytes) -> None:
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in HOP:
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        do_GET = do_POST = do_HEAD = _pass  # noqa: N815 (the base class's names)

    end = ThreadingHTTPServer(("localhost", 0), Handler)
    end.daemon_threads = True
    wire.url = f"http://localhost:{end.server_address[1]}"
    thread = threading.Thread(target=end.serve_forever, daemon=True)
    thread.start()
    try:
        yield wire
    finally:
        end.shutdown()
        end.server_close()
        thread.join()
